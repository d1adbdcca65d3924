/* given.c: what the command line gave: options by name, counts, quantities; and complaints about
 * it. */
#include "verb.h"

#include <errno.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

bool tw_cli_has(const tw_cli *cli, const char *option)
{
  return tw_cli_text_at(cli, option, 0) != NULL;
}

const char *tw_cli_text(const tw_cli *cli, const char *option, const char *otherwise)
{
  const char *text = otherwise;
  for (int i = 0; i < cli->given_count; i++) {
    const tw_option *given = cli->given[i].option;
    if (strcmp(given->name, option) == 0 && given->argument) {
      text = cli->given[i].text;
    }
  }
  return text;
}

const char *tw_cli_text_at(const tw_cli *cli, const char *option, int k)
{
  for (int i = 0; i < cli->given_count; i++) {
    if (strcmp(cli->given[i].option->name, option) == 0 && k-- == 0) {
      return cli->given[i].text;
    }
  }
  return NULL;
}

bool tw_cli_count(const tw_cli *cli, const char *option, long least, long most, long *number)
{
  const char *text = tw_cli_text(cli, option, NULL);
  if (!text) {
    return true;
  }
  char *end = NULL;
  errno = 0;
  const long value = strtol(text, &end, 10);
  if (errno || end == text || *end || value < least || value > most) {
    tw_cli_usage(cli, "--%s: \"%s\" is not a whole number from %ld to %ld", option, text, least,
                 most);
    return false;
  }
  *number = value;
  return true;
}

tw_units *tw_cli_units(tw_cli *cli)
{
  tw_fault fault = {0};
  if (!cli->units && tw_units_new(&cli->units, &fault) != TW_OK) {
    tw_cli_fault(cli, &fault);
  }
  return cli->units;
}

bool tw_cli_quantity(tw_cli *cli, const char *option, const char *unit, double *number)
{
  const char *text = tw_cli_text(cli, option, NULL);
  if (!text) {
    return true;
  }
  tw_units *units = tw_cli_units(cli);
  tw_fault fault = {0};
  tw_quantity quantity = {0};
  tw_unit kind;
  if (!units || tw_units_find(units, unit, &kind, &fault) != TW_OK ||
      tw_quantity_read(units, text, &kind, &quantity, NULL, &fault) != TW_OK) {
    if (fault.status == TW_NO_MEMORY) {
      tw_cli_fault(cli, &fault);
    } else {
      tw_cli_usage(cli, "--%s: %s%s%s", option, fault.text, fault.hint[0] ? "; " : "", fault.hint);
    }
    return false;
  }
  *number = quantity.number;
  return true;
}

tw_exit tw_cli_usage(const tw_cli *cli, const char *format, ...)
{
  if (cli->told->memory) { /* the words are not what is wrong */
    return TW_EXIT_INTERNAL;
  }
  cli->told->anything = true;
  fprintf(cli->err, "error: ");
  va_list list;
  va_start(list, format);
  vfprintf(cli->err, format, list);
  va_end(list);
  fprintf(cli->err, "\n  hint: tripwright %s --help\n", cli->verb->name);
  return TW_EXIT_USAGE;
}
