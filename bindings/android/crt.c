/* What an NDK's crtbegin_so gives a shared library: a handle of its own, its destructors run when it is
 * unloaded, and the note by which Android's loader knows the API level it was built for. */
void *__dso_handle = &__dso_handle;
extern void __cxa_finalize(void *);
__attribute__((destructor, visibility("hidden"))) static void at_unload(void) { __cxa_finalize(&__dso_handle); }
__attribute__((section(".note.android.ident"), used)) static const struct {
  int name_size, data_size, type;
  char name[8];
  int api;
} note = {8, 4, 1, "Android", 26};
