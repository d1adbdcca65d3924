/* readings_in.c: recordings on the command line. */
#include "readings_in.h"

#include "tripwright/files.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool separator_of(const tw_cli *cli, char *out)
{
  static const struct {
    const char *name;
    char sign;
  } signs[] = {{"comma", ','}, {"semicolon", ';'}, {"tab", '\t'}, {"blank", ' '}};
  const char *text = tw_cli_text(cli, "separator", NULL);
  *out = '\0';
  for (size_t i = 0; text && i < sizeof signs / sizeof signs[0]; i++) {
    if (strcmp(text, signs[i].name) == 0) {
      *out = signs[i].sign;
      return true;
    }
  }
  if (text) {
    tw_cli_usage(cli, "--separator: \"%s\" is not comma, semicolon, tab or blank", text);
  }
  return !text;
}

static tw_exit read_table(tw_cli *cli, const char *file, const tw_column *column, size_t columns,
                          bool by_rows, tw_readings **out)
{
  tw_readings_spec spec = {
      .column = column, .columns = columns, .keep_lines = !by_rows, .by_rows = by_rows};
  if (!separator_of(cli, &spec.separator)) {
    return TW_EXIT_USAGE;
  }
  spec.no_heading = tw_cli_has(cli, "no-heading");
  spec.pattern = tw_cli_text(cli, "lines", NULL);
  tw_messages *messages = tw_messages_new();
  if (!messages) {
    return TW_EXIT_INTERNAL;
  }
  const tw_status status = tw_readings_read(file, &spec, messages, out);
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  if (status == TW_OK && spec.pattern) {
    fprintf(cli->err, "%s: %zu of %zu lines taken\n", file, (*out)->rows, (*out)->lines);
  }
  return tw_exit_of(status);
}

tw_exit tw_cli_recording(tw_cli *cli, const char *file, const tw_wanted *wanted, size_t count,
                         tw_recording *out)
{
  tw_column column[TW_WANTED_MOST];
  size_t columns = 0;
  *out = (tw_recording){.file = file};
  for (size_t k = 0; k < count; k++) {
    const char *text = tw_cli_text(cli, wanted[k].option, NULL);
    size_t one = 0;
    tw_fault fault = {0};
    out->at[k] = -1;
    if (!text) {
      continue;
    }
    if (tw_columns_named(text, wanted[k].kind, &column[columns], 1, &one, &fault) != TW_OK) {
      return tw_cli_usage(cli, "--%s: %s", wanted[k].option, fault.text);
    }
    column[columns].may_be_empty = wanted[k].may_be_empty;
    out->at[k] = (int)columns++;
  }
  return read_table(cli, file, column, columns, false, &out->table);
}

const double *tw_recording_number(const tw_recording *r, size_t wanted)
{
  return r->at[wanted] < 0 ? NULL : r->table->number[r->at[wanted]];
}

tw_exit tw_cli_points(tw_cli *cli, const char *file, const char *list, size_t least, size_t most,
                      double **point, size_t *n, size_t *dimensions)
{
  tw_column column[3];
  tw_fault fault = {0};
  size_t count = 0;
  *point = NULL;
  if (!list) {
    return tw_cli_usage(cli, "--columns is missing: name the columns with the coordinates, such as "
                             "x_mm,y_mm");
  }
  if (tw_columns_named(list, TW_LENGTH, column, most, &count, &fault) != TW_OK || count < least) {
    return tw_cli_usage(cli, "--columns: %s",
                        fault.text[0] ? fault.text
                                      : "name one column for "
                                        "each coordinate");
  }
  tw_readings *table = NULL;
  const tw_exit code = read_table(cli, file, column, count, true, &table);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  /* the points change hands as they are: a million of them need no second copy */
  *point = table->number[0];
  table->number[0] = NULL;
  *n = table->rows;
  *dimensions = count;
  tw_readings_free(table);
  return TW_EXIT_DONE;
}

bool tw_cli_number(const tw_cli *cli, const char *option, double low, double high, double *number)
{
  const char *text = tw_cli_text(cli, option, NULL);
  double value;
  if (!text) {
    return true;
  }
  if (!tw_number_read(text, strlen(text), &value) || !(value >= low && value <= high)) {
    tw_cli_usage(cli, "--%s: \"%s\" is not a number from %g to %g", option, text, low, high);
    return false;
  }
  *number = value;
  return true;
}

tw_exit tw_cli_write(const tw_cli *cli, const char *option, char *text)
{
  const char *file = tw_cli_text(cli, option, NULL);
  if (!text) {
    return TW_EXIT_INTERNAL;
  }
  tw_exit code = TW_EXIT_DONE;
  tw_fault fault = {0};
  if (!file) {
    fputs(text, cli->out);
  } else if (tw_file_replace(file, text, strlen(text), &fault) != TW_OK) {
    code = tw_cli_fault(cli, &fault);
  } else {
    fprintf(cli->err, "written: %s\n", file);
  }
  tw_free(text);
  return code;
}

json_t *tw_json_numbers(const double *value, size_t n)
{
  json_t *array = json_array();
  for (size_t i = 0; i < n; i++) {
    json_array_append_new(array, tw_json_number(value[i]));
  }
  return array;
}

json_t *tw_json_vector(const double *value, size_t n, const char *unit)
{
  return json_pack("{s:o, s:s}", "value", tw_json_numbers(value, n), "unit", unit);
}

json_t *tw_json_interval(tw_interval interval, const char *unit)
{
  const double ends[2] = {interval.low, interval.high};
  return tw_json_vector(ends, 2, unit);
}

json_t *tw_json_record(const tw_record *record)
{
  char *text = NULL;
  json_t *json = NULL;
  if (tw_record_json(record, &text, NULL) == TW_OK) { /* NULL is no memory: the caller looks */
    json = json_loads(text, JSON_DECODE_ANY, NULL);
  }
  tw_free(text);
  return json;
}
