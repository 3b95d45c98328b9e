/* SQLite's C is compiled for Android over glibc's headers, since no NDK is at hand. This header, put
 * before everything else, makes good where the two C libraries differ in what SQLite uses. Values of
 * bionic from memory of its headers; they are held together by the asserts where a size can tell. */
#ifndef GLIBC_AS_BIONIC
#define GLIBC_AS_BIONIC
#define _GNU_SOURCE 1 /* mremap and its like, which bionic always declares */
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

int *__errno(void);
#undef errno
#define errno (*__errno())

/* sysconf's names have other numbers in bionic. */
#define _SC_PAGESIZE_OF_BIONIC 0x27
#undef _SC_PAGESIZE
#define _SC_PAGESIZE _SC_PAGESIZE_OF_BIONIC
#undef _SC_PAGE_SIZE
#define _SC_PAGE_SIZE _SC_PAGESIZE_OF_BIONIC

#ifdef __aarch64__
_Static_assert(sizeof(struct stat) == 128, "struct stat is the kernel's on arm64, in both libraries");
#endif
#ifdef __x86_64__
_Static_assert(sizeof(struct stat) == 144, "struct stat is the kernel's on x86-64, in both libraries");
#endif
#ifdef __LP64__
_Static_assert(sizeof(struct flock) == 32 && sizeof(off_t) == 8 && sizeof(time_t) == 8, "sizes of the kernel");
_Static_assert(sizeof(struct timespec) == 16 && sizeof(struct tm) == 56, "sizes of both libraries");
#endif
#endif
