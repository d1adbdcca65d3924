/* log_in.c: the log of a command, and quantities on their way into it. */
#include "log_parts.h"

#include "tripwright/qualify_table.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

const char *tw_cli_log_file(const tw_cli *cli)
{
  const char *own = getenv("TRIPWRIGHT_LOG");
  return tw_cli_text(cli, "log", own && own[0] ? own : "log.db");
}

tw_exit tw_cli_log_open(tw_cli *cli, bool write, tw_logbook **out)
{
  tw_fault fault = {0};
  const tw_logbook_options options = {
      .write = write, .create = write, .anywhere = tw_cli_has(cli, "anywhere")};
  const char *file = tw_cli_log_file(cli);
  if (tw_logbook_open(file, &options, out, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  if (!write && tw_logbook_place(file, &fault) != TW_OK) {
    fprintf(cli->err, "warning: %s\n  hint: %s\n", fault.text, fault.hint);
  }
  return TW_EXIT_DONE;
}

/* the unit behind the number: "N" of "0.105 N ± 0.003 N"; "" for a bare number */
static bool unit_word(const char *text, char *out, size_t size)
{
  char *end = NULL;
  (void)strtod(text, &end);
  const char *at = end;
  while (isspace((unsigned char)*at)) {
    at++;
  }
  size_t length = strcspn(at, "+");
  const char *sign = strstr(at, "±");
  if (sign && (size_t)(sign - at) < length) {
    length = (size_t)(sign - at);
  }
  while (length > 0 && isspace((unsigned char)at[length - 1])) {
    length--;
  }
  if (end == text || length >= size) {
    return false;
  }
  memcpy(out, at, length);
  out[length] = '\0';
  return true;
}

static tw_status read_quantity(tw_units *units, const char *text, tw_quantity *quantity,
                               const char **si, tw_fault *fault)
{
  char word[TW_UNIT_NAME];
  tw_unit unit = {.scale = 1};
  if (!unit_word(text, word, sizeof word)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "write it as \"0.105 N\"", "\"%.60s\" is no number",
                   text);
  }
  tw_status status = word[0] ? tw_units_find(units, word, &unit, fault) : TW_OK;
  status = status == TW_OK ? tw_quantity_read(units, text, &unit, quantity, NULL, fault) : status;
  *si = status == TW_OK && word[0] ? tw_unit_si_name(units, &unit) : "1";
  return status;
}

/* The limits of a reading are its instrument's, uniform between them (u = half/sqrt 3); those of a
 * foreseen figure are two standard deviations, as everywhere in a design. A corrected figure does
 * not keep the uncertainty of the wrong one. */
static void put_limits(json_t *body, const char *key, const char *text, const tw_quantity *quantity)
{
  const double half = fmax(quantity->tolerance.plus, quantity->tolerance.minus);
  const bool given = quantity->tolerance.given;
  if (strcmp(key, "value") == 0) {
    json_object_set_new(body, "raw", json_string(text));
    json_object_del(body, "u");
    if (given) {
      json_object_set_new(body, "u", json_real(half / sqrt(3.0)));
    }
  } else if (strcmp(key, "foreseen") == 0) {
    json_object_set_new(body, "u_foreseen", json_real(given ? half / 2.0 : 0.0));
  }
}

tw_exit tw_cli_log_quantity(tw_cli *cli, const char *option, const char *text, const char *key,
                            json_t *body)
{
  tw_units *units = tw_cli_units(cli);
  tw_quantity quantity;
  tw_fault fault = {0};
  const char *si = "1";
  char name[64];
  if (!units) {
    return TW_EXIT_FILE;
  }
  if (read_quantity(units, text, &quantity, &si, &fault) != TW_OK) {
    return fault.status == TW_NO_MEMORY ? tw_cli_fault(cli, &fault)
                                        : tw_cli_usage(cli, "--%s: %s%s%s", option, fault.text,
                                                       fault.hint[0] ? "; " : "", fault.hint);
  }
  snprintf(name, sizeof name, "unit_of_%s", key);
  json_object_set_new(body, key, json_real(quantity.number));
  json_object_set_new(body, name, json_string(si));
  put_limits(body, key, text, &quantity);
  return TW_EXIT_DONE;
}

const char *tw_log_operand(const tw_cli *cli, int k)
{
  return k + 1 < cli->count ? cli->operand[k + 1] : NULL;
}

json_t *tw_log_document(const tw_cli *cli, const char *word)
{
  json_t *document = tw_document_new("log");
  json_object_set_new(document, "word", json_string(word));
  json_object_set_new(document, "log", json_string(tw_cli_log_file(cli)));
  return document;
}
