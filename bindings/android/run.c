/* Drives the library as a shell does, through UniFFI's C interface: makes a notebook, writes in it, shuts
 * it, opens it again, has it verified, and catches a fault that is made on purpose. Usage: run FOLDER.
 * What it wrote is then read by others (check.sh). */
#include <stdint.h>
#include <stdio.h>
#include <string.h>

typedef struct { uint64_t capacity, len; uint8_t *data; } Buffer;
typedef struct { int8_t code; Buffer error; } Status;

#define FFI(name) uniffi_witnessmark_ffi_fn_##name
extern Buffer ffi_witnessmark_ffi_rustbuffer_alloc(uint64_t, Status *);
extern uint64_t FFI(constructor_notebook_make)(Buffer folder, Buffer author, Buffer seed, Status *);
extern uint64_t FFI(constructor_notebook_open)(Buffer folder, Buffer seed, Status *);
extern uint64_t FFI(clone_notebook)(uint64_t, Status *);
extern void FFI(free_notebook)(uint64_t, Status *);
extern Buffer FFI(method_notebook_add_aircraft)(uint64_t, Buffer mark, Buffer type, Buffer serial, Buffer layout, int8_t another, Status *);
extern Buffer FFI(method_notebook_write_note)(uint64_t, Buffer text, Buffer place, Status *);
extern Buffer FFI(method_notebook_verify)(uint64_t, Status *);
extern void FFI(method_notebook_fail_on_purpose)(uint64_t, Status *);
extern void FFI(method_notebook_shut)(uint64_t, Status *);
extern uint64_t FFI(func_live_objects)(Status *);

static Status status;

static void good(const char *what) {
  if (status.code) {
    printf("FAILED %s: code %d: %.*s\n", what, status.code, (int)status.error.len, (char *)status.error.data);
    fflush(stdout);
    __builtin_trap();
  }
}

/* Values in the order of UniFFI's carrier: lengths as four bytes, big end first. */
static uint8_t carried[4096];
static size_t size;
static void byte(uint8_t one) { carried[size++] = one; }
static void bytes(const void *from, uint32_t length) {
  for (int shift = 24; shift >= 0; shift -= 8) byte((uint8_t)(length >> shift));
  memcpy(carried + size, from, length);
  size += length;
}
static Buffer handed(void) {
  Buffer out = ffi_witnessmark_ffi_rustbuffer_alloc(size, &status);
  good("alloc");
  memcpy(out.data, carried, size);
  out.len = size;
  size = 0;
  return out;
}
static Buffer text(const char *of) {
  memcpy(carried, of, size = strlen(of));
  return handed();
}
static Buffer seed(void) {
  uint8_t key[32];
  memset(key, 7, sizeof key);
  byte(1);
  bytes(key, sizeof key);
  return handed();
}
static uint64_t held(uint64_t book) {
  uint64_t again = FFI(clone_notebook)(book, &status);
  good("clone");
  return again;
}

int main(int count, char **arguments) {
  if (count != 2) return 2;
  Buffer folder = text(arguments[1]);
  bytes("A. Example", 10);
  bytes("owner", 5);
  Buffer author = handed();
  uint64_t book = FFI(constructor_notebook_make)(folder, author, seed(), &status);
  good("make");
  byte(0);
  Buffer none = handed();
  Buffer craft = FFI(method_notebook_add_aircraft)(held(book), text("N0123"), text("Invented 2"), none, text("low_wing_fixed"), 0, &status);
  good("add an aircraft");
  /* PlaceGiven: aircraft, stop, zone, finding, view, taken */
  for (int n = 0; n < 20; n++) {
    byte(1);
    bytes(craft.data, (uint32_t)craft.len);
    for (int k = 0; k < 5; k++) byte(0);
    FFI(method_notebook_write_note)(held(book), text("paint flaked at the seam"), handed(), &status);
    good("write");
  }
  FFI(method_notebook_shut)(held(book), &status);
  good("shut");
  FFI(free_notebook)(book, &status);
  good("free");

  book = FFI(constructor_notebook_open)(text(arguments[1]), seed(), &status);
  good("open");
  Buffer said = FFI(method_notebook_verify)(held(book), &status);
  good("verify");
  if (said.len < 100) return 1;
  FFI(method_notebook_fail_on_purpose)(held(book), &status);
  printf("a fault made on purpose came back as code %d\n", status.code);
  if (status.code != 2) return 1;
  memset(&status, 0, sizeof status);
  FFI(method_notebook_shut)(held(book), &status);
  good("shut after the fault");
  FFI(free_notebook)(book, &status);
  good("free");
  uint64_t alive = FFI(func_live_objects)(&status);
  good("count");
  printf("objects alive: %d\n", (int)alive);
  return alive != 0;
}
