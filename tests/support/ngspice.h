/* ngspice.h: a folder for netlists, and whether the outside circuit simulator is installed. */
#ifndef TW_TEST_NGSPICE_H
#define TW_TEST_NGSPICE_H

#include "near.h"

#include <stdbool.h>
#include <stdlib.h>
#include <unistd.h>

static char folder[] = "/tmp/tripwright-spice-XXXXXX";
static bool have_ngspice;

static int open_folder(void **state)
{
  (void)state;
  have_ngspice = system("command -v ngspice >/dev/null 2>&1") == 0;
  if (!have_ngspice) {
    print_message("skipped: ngspice is not installed\n");
  }
  return mkdtemp(folder) ? 0 : -1;
}

static int close_folder(void **state)
{
  (void)state;
  char path[64];
  snprintf(path, sizeof path, "%s/a.cir", folder);
  unlink(path);
  return rmdir(folder);
}

#endif
