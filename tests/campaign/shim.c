/* A layer between the program and the file system, for tests: it writes down every change below one folder, in order, and
 * can kill the program at a change, fill the disk, cut a write short, or let a sync fail. Loaded with LD_PRELOAD.
 *
 * SHIM_ROOT    folder whose changes count
 * SHIM_TRACE   file that takes them: a line of kind and numbers, then bytes (see `trace.rs`)
 * SHIM_FAULT   none | before N | after N | full N | short N | sync N
 *              die before or after change N; from change N on the disk is full; the N-th of all writes is cut in half and the
 *              disk is full behind it; the N-th of all syncs fails
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <unistd.h>

#define LONGEST 4096
#define FILES 4096

static pthread_mutex_t guard = PTHREAD_MUTEX_INITIALIZER;
static char root[LONGEST];
static int trace = -1;
static long changes, syncs, writes;
static enum { NONE, BEFORE, AFTER, FULL, SHORT, SYNC } fault;
static long at;
static int full;
static unsigned char watched[FILES];

static ssize_t raw_write(int fd, const void *bytes, size_t length) {
  return syscall(SYS_write, fd, bytes, length);
}

__attribute__((constructor)) static void begin(void) {
  const char *folder = getenv("SHIM_ROOT");
  const char *file = getenv("SHIM_TRACE");
  const char *what = getenv("SHIM_FAULT");
  if (!folder) return;
  snprintf(root, sizeof root, "%s", folder);
  if (file) trace = (int)syscall(SYS_openat, AT_FDCWD, file, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
  if (!what) return;
  char word[16] = "";
  if (sscanf(what, "%15s %ld", word, &at) != 2) return;
  fault = !strcmp(word, "before") ? BEFORE : !strcmp(word, "after") ? AFTER : !strcmp(word, "full") ? FULL
        : !strcmp(word, "short") ? SHORT : !strcmp(word, "sync") ? SYNC : NONE;
}

static int below(const char *path) {
  size_t length = strlen(root);
  return length && !strncmp(path, root, length) && (path[length] == '/' || !path[length]);
}

/* The whole path of a name that is given to a call. */
static int whole(int folder, const char *path, char *out) {
  char base[LONGEST];
  if (path[0] == '/') {
    snprintf(out, LONGEST, "%s", path);
  } else {
    if (folder == AT_FDCWD) {
      if (!getcwd(base, sizeof base)) return 0;
    } else {
      char link[64];
      snprintf(link, sizeof link, "/proc/self/fd/%d", folder);
      ssize_t length = readlink(link, base, sizeof base - 1);
      if (length < 0) return 0;
      base[length] = 0;
    }
    if ((size_t)snprintf(out, LONGEST, "%s/%s", base, path) >= LONGEST) return 0;
  }
  return below(out);
}

static unsigned long number_of(int fd) {
  struct stat data;
  return fstat(fd, &data) ? 0 : (unsigned long)data.st_ino;
}

static unsigned long number_at(const char *path) {
  struct stat data;
  return lstat(path, &data) ? 0 : (unsigned long)data.st_ino;
}

static void note(const char *kind, unsigned long number, long offset, const void *bytes, size_t length) {
  if (trace < 0) return;
  char head[96];
  int size = snprintf(head, sizeof head, "%s %lu %ld %zu\n", kind, number, offset, length);
  raw_write(trace, head, (size_t)size);
  if (length) raw_write(trace, bytes, length);
  raw_write(trace, "\n", 1);
}

/* Called with the guard held, before a change is made. Whether the disk takes it. */
static int takes(int grows) {
  changes++;
  if (fault == BEFORE && changes == at) raise(SIGKILL);
  if (fault == FULL && changes >= at) full = 1;
  return !(full && grows);
}

static void done(void) {
  if (fault == AFTER && changes == at) raise(SIGKILL);
}

#define REAL(name) static __typeof__(name) *real; if (!real) real = (__typeof__(real))dlsym(RTLD_NEXT, #name)

static int is_watched(int fd) { return fd >= 0 && fd < FILES && watched[fd]; }

static int opened(int (*call)(int, const char *, int, mode_t), int folder, const char *path, int flags, mode_t mode) {
  char full_path[LONGEST];
  if (!root[0] || !whole(folder, path, full_path)) {
    int fd = call(folder, path, flags, mode);
    if (fd >= 0 && fd < FILES) watched[fd] = 0;
    return fd;
  }
  pthread_mutex_lock(&guard);
  int writes = (flags & O_ACCMODE) != O_RDONLY;
  int creates = (flags & O_CREAT) && !number_at(full_path);
  int cuts = writes && (flags & O_TRUNC) && number_at(full_path);
  int fd = -1;
  if ((creates || cuts) && !takes(creates)) {
    errno = ENOSPC;
  } else {
    fd = call(folder, path, flags, mode);
    if (fd >= 0) {
      if (creates) note("create", number_of(fd), 0, full_path, strlen(full_path));
      if (cuts) note("cut", number_of(fd), 0, "", 0);
      if (fd < FILES) watched[fd] = 1;
      if (creates || cuts) done();
    }
  }
  pthread_mutex_unlock(&guard);
  return fd;
}

static int call_openat(int folder, const char *path, int flags, mode_t mode) {
  return (int)syscall(SYS_openat, folder, path, flags, mode);
}

#define MODE(flags, mode) \
  mode_t mode = 0; \
  if ((flags) & (O_CREAT | O_TMPFILE)) { va_list rest; va_start(rest, flags); mode = va_arg(rest, mode_t); va_end(rest); }

int open(const char *path, int flags, ...) { MODE(flags, mode) return opened(call_openat, AT_FDCWD, path, flags, mode); }
int open64(const char *path, int flags, ...) { MODE(flags, mode) return opened(call_openat, AT_FDCWD, path, flags, mode); }
int openat(int folder, const char *path, int flags, ...) { MODE(flags, mode) return opened(call_openat, folder, path, flags, mode); }
int openat64(int folder, const char *path, int flags, ...) { MODE(flags, mode) return opened(call_openat, folder, path, flags, mode); }

int close(int fd) {
  if (fd >= 0 && fd < FILES) watched[fd] = 0;
  return (int)syscall(SYS_close, fd);
}

static ssize_t put(int fd, const void *bytes, size_t length, off_t offset, int has_offset) {
  if (!is_watched(fd)) {
    ssize_t written = has_offset ? syscall(SYS_pwrite64, fd, bytes, length, offset) : raw_write(fd, bytes, length);
    if (fd == 2 && root[0] && written > 0) {
      pthread_mutex_lock(&guard);
      note("told", 0, 0, bytes, (size_t)written);
      pthread_mutex_unlock(&guard);
    }
    return written;
  }
  pthread_mutex_lock(&guard);
  ssize_t written = -1;
  int cut = fault == SHORT && ++writes == at && length > 1;
  if (!takes(1)) {
    errno = ENOSPC;
  } else {
    if (cut) { length /= 2; full = 1; }
    struct stat data;
    off_t from = offset;
    if (!has_offset) {
      from = lseek(fd, 0, SEEK_CUR);
      if ((fcntl(fd, F_GETFL) & O_APPEND) && !fstat(fd, &data)) from = data.st_size;
    }
    written = has_offset ? syscall(SYS_pwrite64, fd, bytes, length, offset) : raw_write(fd, bytes, length);
    if (written > 0) note("write", number_of(fd), (long)from, bytes, (size_t)written);
    done();
  }
  pthread_mutex_unlock(&guard);
  return written;
}

ssize_t write(int fd, const void *bytes, size_t length) { return put(fd, bytes, length, 0, 0); }
ssize_t pwrite(int fd, const void *bytes, size_t length, off_t offset) { return put(fd, bytes, length, offset, 1); }
ssize_t pwrite64(int fd, const void *bytes, size_t length, off64_t offset) { return put(fd, bytes, length, offset, 1); }

ssize_t writev(int fd, const struct iovec *parts, int count) {
  for (int i = 0; i < count; i++)
    if (parts[i].iov_len) return put(fd, parts[i].iov_base, parts[i].iov_len, 0, 0);
  return 0;
}

/* What copies within the kernel would pass by: the program is told to read and write. */
ssize_t copy_file_range(int in, off64_t *from, int out, off64_t *to, size_t length, unsigned flags) {
  if (!is_watched(out)) return syscall(SYS_copy_file_range, in, from, out, to, length, flags);
  errno = ENOSYS;
  return -1;
}

static int cut_to(int fd, off_t length) {
  if (!is_watched(fd)) return (int)syscall(SYS_ftruncate, fd, length);
  pthread_mutex_lock(&guard);
  takes(0);
  int result = (int)syscall(SYS_ftruncate, fd, length);
  if (!result) note("cut", number_of(fd), (long)length, "", 0);
  done();
  pthread_mutex_unlock(&guard);
  return result;
}

int ftruncate(int fd, off_t length) { return cut_to(fd, length); }
int ftruncate64(int fd, off64_t length) { return cut_to(fd, length); }

static int sync_of(int fd, long call) {
  if (!is_watched(fd)) return (int)syscall(call, fd);
  pthread_mutex_lock(&guard);
  takes(0);
  syncs++;
  int result = -1;
  if (fault == SYNC && syncs == at) {
    errno = EIO;
  } else {
    /* The disk of the test may be memory: what counts is the order. */
    result = 0;
    note("sync", number_of(fd), 0, "", 0);
  }
  done();
  pthread_mutex_unlock(&guard);
  return result;
}

int fsync(int fd) { return sync_of(fd, SYS_fsync); }
int fdatasync(int fd) { return sync_of(fd, SYS_fdatasync); }

/* Two paths, one behind the other, with the length of the first as the offset. */
static void note_two(const char *kind, unsigned long number, const char *from, const char *to) {
  char both[2 * LONGEST];
  int length = snprintf(both, sizeof both, "%s%s", from, to);
  note(kind, number, (long)strlen(from), both, (size_t)length);
}

static int moved(int from_folder, const char *from, int to_folder, const char *to, unsigned flags, int links) {
  char one[LONGEST], two[LONGEST];
  long call = links ? SYS_linkat : SYS_renameat2;
  if (!root[0] || !whole(to_folder, to, two) || !whole(from_folder, from, one))
    return (int)syscall(call, from_folder, from, to_folder, to, flags);
  pthread_mutex_lock(&guard);
  int result = -1;
  if (!takes(links)) {
    errno = ENOSPC;
  } else {
    result = (int)syscall(call, from_folder, from, to_folder, to, flags);
    if (!result) note_two(links ? "link" : "rename", number_at(two), one, two);
    done();
  }
  pthread_mutex_unlock(&guard);
  return result;
}

int rename(const char *from, const char *to) { return moved(AT_FDCWD, from, AT_FDCWD, to, 0, 0); }
int renameat(int a, const char *from, int b, const char *to) { return moved(a, from, b, to, 0, 0); }
int renameat2(int a, const char *from, int b, const char *to, unsigned flags) { return moved(a, from, b, to, flags, 0); }
int link(const char *from, const char *to) { return moved(AT_FDCWD, from, AT_FDCWD, to, 0, 1); }
int linkat(int a, const char *from, int b, const char *to, int flags) { return moved(a, from, b, to, (unsigned)flags, 1); }

static int removed(int folder, const char *path, int flags) {
  char full_path[LONGEST];
  if (!root[0] || !whole(folder, path, full_path) || !number_at(full_path))
    return (int)syscall(SYS_unlinkat, folder, path, flags);
  pthread_mutex_lock(&guard);
  takes(0);
  unsigned long number = number_at(full_path);
  int result = (int)syscall(SYS_unlinkat, folder, path, flags);
  if (!result) note("remove", number, 0, full_path, strlen(full_path));
  done();
  pthread_mutex_unlock(&guard);
  return result;
}

int unlink(const char *path) { return removed(AT_FDCWD, path, 0); }
int rmdir(const char *path) { return removed(AT_FDCWD, path, AT_REMOVEDIR); }
int unlinkat(int folder, const char *path, int flags) { return removed(folder, path, flags); }

static int made(int folder, const char *path, mode_t mode) {
  char full_path[LONGEST];
  if (!root[0] || !whole(folder, path, full_path) || number_at(full_path))
    return (int)syscall(SYS_mkdirat, folder, path, mode);
  pthread_mutex_lock(&guard);
  int result = -1;
  if (!takes(1)) {
    errno = ENOSPC;
  } else {
    result = (int)syscall(SYS_mkdirat, folder, path, mode);
    if (!result) note("folder", number_at(full_path), 0, full_path, strlen(full_path));
    done();
  }
  pthread_mutex_unlock(&guard);
  return result;
}

int mkdir(const char *path, mode_t mode) { return made(AT_FDCWD, path, mode); }
int mkdirat(int folder, const char *path, mode_t mode) { return made(folder, path, mode); }
