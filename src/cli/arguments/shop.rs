use std::path::PathBuf;

use clap::{Args, Subcommand};

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof shop begin yard --person \"Robin Alder\"
                            makes the folder with its shop.toml
  rigproof shop check       people, instruments, limits, and what is amiss
  rigproof shop gate van-4  one line, exit status 0: this vehicle may leave

A walk of a job that lies in the folder keeps the rules of the shop.")]
pub(in crate::cli) struct Shop {
    #[command(subcommand)]
    pub command: ShopCommand,
}

#[derive(Debug, Subcommand)]
pub(in crate::cli) enum ShopCommand {
    /// Make the folder of a shop, with one person who may do everything
    Begin(ShopBegin),
    /// Read shop.toml: who may do what, which instruments are good, and what is amiss
    Check(ShopCheck),
    /// May this vehicle leave? One line, and the exit status
    Gate(ShopGate),
}

#[derive(Debug, Args)]
pub(in crate::cli) struct ShopBegin {
    /// The folder; it is made where there is none
    pub folder: PathBuf,
    /// Name of the shop [default: that of the folder]
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
    /// Who begins it, and may do everything; your name of `rigproof settings` where not given
    #[arg(long, value_name = "NAME")]
    pub person: Option<String>,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct ShopCheck {
    /// Folder of the shop [default: the nearest upward with a shop.toml]
    #[arg(long, value_name = "DIR")]
    pub shop: Option<PathBuf>,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Exit status: 0 it may leave; 1 it stays, with the first reason and how many
there are; 2 there is no such job or shop.")]
pub(in crate::cli) struct ShopGate {
    /// Name of a job of the shop, or the folder of a job or record
    pub vehicle: PathBuf,
    /// Folder of the shop [default: the nearest upward with a shop.toml]
    #[arg(long, value_name = "DIR")]
    pub shop: Option<PathBuf>,
    /// Tell every reason, each with the way out
    #[arg(long)]
    pub all: bool,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}
