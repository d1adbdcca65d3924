/* unit_file.c: a unit's file as text, read once before it is written. */
#define _XOPEN_SOURCE 700 /* realpath */
#include "unit_file.h"

#include "tripwright/files.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* the folder of a path as the system knows it, ending in no slash; false when there is none */
static bool folder_of(const char *path, char out[PATH_MAX])
{
  char dir[PATH_MAX];
  const char *slash = strrchr(path, '/');
  snprintf(dir, sizeof dir, "%.*s", slash ? (int)(slash - path) : 1, slash ? path : ".");
  return realpath(dir[0] ? dir : "/", out) != NULL;
}

/* `file` as seen from the folder of `from`: both folders exist */
static bool relative(const char *from, const char *file, char *out, size_t size)
{
  char a[PATH_MAX], b[PATH_MAX];
  const char *slash = strrchr(file, '/'), *name = slash ? slash + 1 : file;
  if (!folder_of(from, a) || !folder_of(file, b)) {
    return false;
  }
  size_t same = 0;
  for (size_t i = 0; a[i] == b[i] || a[i] == '\0' || b[i] == '\0'; i++) {
    if ((a[i] == '/' || a[i] == '\0') && (b[i] == '/' || b[i] == '\0')) {
      same = i;
    }
    if (a[i] == '\0' || b[i] == '\0') {
      break;
    }
  }
  size_t used = 0;
  out[0] = '\0';
  for (const char *up = a + same; *up; up++) {
    if (*up == '/' && up[1]) {
      used += (size_t)snprintf(out + used, used < size ? size - used : 0, "../");
    }
  }
  const char *down = b[same] == '/' ? b + same + 1 : b + same;
  used += (size_t)snprintf(out + used, used < size ? size - used : 0, "%s%s%s", down,
                           *down ? "/" : "", name);
  return used < size;
}

/* a text between double quotes */
static void quoted(const char *text, char *out, size_t size)
{
  size_t n = 0;
  out[n++] = '"';
  for (; *text && n + 4 < size; text++) {
    if (*text == '"' || *text == '\\') {
      out[n++] = '\\';
    }
    out[n++] = *text;
  }
  out[n++] = '"';
  out[n] = '\0';
}

/* what the values are put into: a new file, or that of the unit so far */
static tw_exit start_text(tw_cli *cli, const tw_design *design, const char *path, char **text,
                          size_t *length)
{
  const char *file = cli->operand[0];
  tw_fault fault = {0};
  char base[PATH_MAX], name[300], line[300], here[PATH_MAX], there[PATH_MAX];
  if (strcmp(file, "-") == 0) {
    return tw_cli_usage(cli, "--write: a unit is based on a file, and the design came from the "
                             "standard input");
  }
  if (tw_design_base(design)) {
    if (!folder_of(path, here) || !folder_of(file, there) || strcmp(here, there) != 0) {
      return tw_cli_usage(cli,
                          "--write: this design is itself based on %s; write the unit beside "
                          "it, in the same folder",
                          tw_design_base(design));
    }
    return tw_file_read(file, SIZE_MAX, &fault, text, length) == TW_OK ? TW_EXIT_DONE
                                                                       : tw_cli_fault(cli, &fault);
  }
  if (!relative(path, file, base, sizeof base)) {
    return tw_cli_usage(cli, "--write: there is no folder for %s", path);
  }
  snprintf(line, sizeof line, "%.250s, this unit", tw_design_name(design));
  quoted(line, name, sizeof name);
  const size_t size = strlen(base) + strlen(name) + 400;
  *text = tw_alloc(size, 1);
  if (!*text) {
    tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
    return tw_cli_fault(cli, &fault);
  }
  *length = (size_t)snprintf(*text, size,
                             "# One unit, from readings on the bench (tripwright identify): the "
                             "limits hold 95 of 100.\n"
                             "based_on: %s\ndesign: %s\n",
                             base, name);
  return TW_EXIT_DONE;
}

/* what is written must read */
static tw_exit check_text(tw_cli *cli, const char *text, size_t length, const char *path)
{
  const tw_read_options options = {
      .units = tw_cli_units(cli), .library = tw_cli_library(cli), .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status =
      messages ? tw_design_parse(text, length, path, &options, messages, &design) : TW_NO_MEMORY;
  if (status != TW_OK && messages) {
    tw_cli_messages(cli, messages);
  }
  tw_messages_free(messages);
  tw_design_free(design);
  return status == TW_OK ? TW_EXIT_DONE : tw_exit_of(status);
}

tw_exit tw_unit_file_write(tw_cli *cli, const tw_design *design, const tw_unit_values *values,
                           const char *path)
{
  char *text = NULL, *edited = NULL;
  size_t length = 0;
  tw_fault fault = {0};
  tw_exit code = start_text(cli, design, path, &text, &length);
  if (code == TW_EXIT_DONE &&
      tw_design_edit(text, length, values->count, values->set, &fault, &edited) != TW_OK) {
    code = tw_cli_fault(cli, &fault);
  }
  code = code == TW_EXIT_DONE ? check_text(cli, edited, strlen(edited), path) : code;
  if (code == TW_EXIT_DONE && tw_file_replace(path, edited, strlen(edited), &fault) != TW_OK) {
    code = tw_cli_fault(cli, &fault);
  }
  tw_free(text);
  tw_free(edited);
  return code;
}
