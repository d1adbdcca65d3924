/* bench_in.c: readings of the bench card as options and files give them. */
#include "bench_in.h"

#include "tripwright/files.h"

#include <ctype.h>
#include <string.h>

#define FILE_MOST 65536 /* bytes of a file of readings: some thousand lines */

/* CHECK=VALUE */
static tw_exit read_one(tw_bench_in *j, const char *text)
{
  const char *equals = strchr(text, '=');
  char name[64];
  tw_fault fault = {0};
  if (!equals || equals == text) {
    return tw_cli_usage(j->cli, "--read: \"%s\" is not CHECK=VALUE", text);
  }
  if (j->readings == TW_BENCH_COUNT) {
    return tw_cli_usage(j->cli, "--read: more readings than the card has checks");
  }
  size_t length = (size_t)(equals - text);
  while (length > 0 && text[length - 1] == ' ') {
    length--;
  }
  snprintf(name, sizeof name, "%.*s", (int)(length < sizeof name ? length : sizeof name - 1), text);
  const tw_status status =
      tw_bench_reading_read(j->card, tw_cli_units(j->cli), name,
                            equals + 1 + strspn(equals + 1, " "), &j->reading[j->readings], &fault);
  if (status != TW_OK) {
    fault.field[0] = '\0'; /* the text names the check */
    return tw_cli_fault(j->cli, &fault);
  }
  j->raw[j->readings++] = equals + 1 + strspn(equals + 1, " ");
  return TW_EXIT_DONE;
}

/* a file with one CHECK=VALUE a line; # begins a remark */
static tw_exit read_file(tw_bench_in *j, const char *path)
{
  tw_fault fault = {0};
  size_t length = 0;
  if (tw_file_read(path, FILE_MOST, &fault, &j->file, &length) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  int line = 0;
  for (char *at = j->file, *next; at; at = next) {
    next = strchr(at, '\n');
    if (next) {
      *next++ = '\0';
    }
    line++;
    at[strcspn(at, "#\r")] = '\0';
    at += strspn(at, " \t");
    for (size_t n = strlen(at); n > 0 && isspace((unsigned char)at[n - 1]); n--) {
      at[n - 1] = '\0';
    }
    const tw_exit code = at[0] ? read_one(j, at) : TW_EXIT_DONE;
    if (code != TW_EXIT_DONE) {
      fprintf(j->cli->err, "  in %s, line %d\n", path, line);
      return code == TW_EXIT_USAGE ? TW_EXIT_INPUT : code;
    }
  }
  return TW_EXIT_DONE;
}

tw_exit tw_bench_in_read(tw_bench_in *j)
{
  const char *file = tw_cli_text(j->cli, "readings", NULL), *text;
  tw_exit code = file ? read_file(j, file) : TW_EXIT_DONE;
  for (int k = 0; code == TW_EXIT_DONE && (text = tw_cli_text_at(j->cli, "read", k)); k++) {
    code = read_one(j, text);
  }
  if (code == TW_EXIT_DONE && j->readings == 0 && !j->may_be_none) {
    return tw_cli_usage(j->cli, "give what was read: --read rest_node=612mV (tripwright expect "
                                "lists the checks; --json and --csv give their names)");
  }
  return code;
}
