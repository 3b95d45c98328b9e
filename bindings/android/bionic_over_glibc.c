/* For running the Android library over glibc: the few names that bionic has and glibc has not. Its
 * soname is libc.so, and it needs glibc's own, where all the rest is found. */
#include <errno.h>
#include <string.h>
#include <unistd.h>

int *__errno(void) { return __errno_location(); }
/* Bionic's numbers of sysconf's names (from memory of its headers) that std and SQLite ask for. */
long sysconf_of_glibc(int) __asm__("__sysconf");
long sysconf(int name) {
  switch (name) {
    case 0x27: case 0x28: return sysconf_of_glibc(_SC_PAGESIZE);
    case 0x60: return sysconf_of_glibc(_SC_NPROCESSORS_CONF);
    case 0x61: return sysconf_of_glibc(_SC_NPROCESSORS_ONLN);
    default: return sysconf_of_glibc(name);
  }
}
/* Bionic's strerror_r answers a number, glibc's plain one a text. */
int xpg(int, char *, size_t) __asm__("__xpg_strerror_r");
int strerror_r_of_bionic(int number, char *into, size_t size) __asm__("strerror_r");
int strerror_r_of_bionic(int number, char *into, size_t size) { return xpg(number, into, size); }
int android_get_device_api_level(void) { return 26; }
void android_set_abort_message(const char *text) { write(2, text, strlen(text)); }
/* No properties of a phone's here; std asks which processor it is on. */
int __system_property_get(const char *name, char *value) { (void)name; *value = 0; return 0; }
