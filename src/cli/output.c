/* output.c: what verbs print: JSON documents, figures with a handy prefix, bars, messages. */
#include "verb.h"

#include <math.h>
#include <signal.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

tw_exit tw_exit_of(tw_status status)
{
  switch (status) {
  case TW_OK:
    return TW_EXIT_DONE;
  case TW_BAD_INPUT:
    return TW_EXIT_INPUT;
  case TW_NO_ANSWER:
    return TW_EXIT_NO_ANSWER;
  case TW_NO_FILE:
    return TW_EXIT_FILE;
  case TW_CANCELLED:
    return TW_EXIT_INTERRUPTED;
  case TW_NO_MEMORY:
  case TW_INTERNAL:
    break;
  }
  return TW_EXIT_INTERNAL;
}

/* where the field of a fault stands; of several designs at least the file */
static void print_place(const tw_cli *cli, const tw_fault *fault)
{
  const tw_field field = fault->field[0] ? tw_field_find(fault->field) : TW_FIELD_COUNT;
  if (!cli->last || (field == TW_FIELD_COUNT && cli->count < 2)) {
    return;
  }
  tw_place place = {0};
  if (field != TW_FIELD_COUNT && tw_design_value(cli->last, field)->origin > TW_ORIGIN_LIBRARY) {
    place = tw_design_value(cli->last, field)->place;
  }
  const char *file = place.file ? place.file : tw_design_file(cli->last);
  if (file && place.line > 0) {
    fprintf(cli->err, "%s:%d:%d: ", file, place.line, place.column);
  } else if (file) {
    fprintf(cli->err, "%s: ", file);
  }
}

tw_exit tw_cli_fault(const tw_cli *cli, const tw_fault *fault)
{
  /* a function that failed without filling the fault had no memory for more */
  const tw_status status = fault->status == TW_OK ? TW_NO_MEMORY : fault->status;
  cli->told->anything = true;
  cli->told->memory |= status == TW_NO_MEMORY;
  print_place(cli, fault);
  fprintf(cli->err, "error: %s%s%s\n", fault->field, fault->field[0] ? ": " : "",
          fault->text[0] ? fault->text : tw_status_text(status));
  if (fault->hint[0]) {
    fprintf(cli->err, "  hint: %s\n", fault->hint);
  }
  return tw_exit_of(status);
}

tw_exit tw_cli_verdict(const tw_assessment *assessment)
{
  switch (tw_assess_verdict_of(assessment)) {
  case TW_ASSESS_NOTHING_ASKED:
  case TW_ASSESS_MET:
    return TW_EXIT_DONE;
  case TW_ASSESS_NO_ANSWER:
    return TW_EXIT_NO_ANSWER;
  case TW_ASSESS_NOT_MET:
  case TW_ASSESS_LEFT_OUT:
    break;
  }
  return TW_EXIT_NOT_MET;
}

bool tw_cli_print_state(FILE *out, const json_t *document, const char *indent)
{
  const char *sentence = json_string_value(json_object_get(document, "sentence"));
  const bool told = sentence && sentence[0];
  if (told) {
    const char *why = json_string_value(json_object_get(document, "why"));
    const char *field = json_string_value(json_object_get(document, "field"));
    const char *hint = json_string_value(json_object_get(document, "hint"));
    fprintf(out, "%s%s\n", indent, sentence);
    if (why && why[0]) {
      fprintf(out, "%scause: %s\n", indent, why);
    }
    if (hint && hint[0]) {
      fprintf(out, "%scure: %s\n", indent, hint);
    }
    if (field && field[0]) {
      fprintf(out, "%schange: %s\n", indent, field);
    }
  }
  return told;
}

tw_exit tw_cli_state_exit(const char *state)
{
  if (!state || strcmp(state, tw_measure_state_text(TW_MEASURE_OK)) == 0) {
    return TW_EXIT_DONE;
  }
  return strcmp(state, tw_measure_state_text(TW_MEASURE_NO_ANSWER)) == 0 ? TW_EXIT_NO_ANSWER
                                                                         : TW_EXIT_NOT_MET;
}

/* a shop file that two designs share is complained about once */
static bool said_before(tw_said *said, const char *text)
{
  char print[TW_FINGERPRINT];
  tw_fingerprint(text, strlen(text), print);
  for (size_t i = 0; i < said->count; i++) {
    if (strcmp(said->print[i], print) == 0) {
      return true;
    }
  }
  if (said->count < sizeof said->print / sizeof said->print[0]) {
    memcpy(said->print[said->count++], print, sizeof print);
  }
  return false;
}

void tw_cli_messages(const tw_cli *cli, const tw_messages *messages)
{
  cli->told->memory |= !messages || tw_messages_lost(messages);
  cli->told->anything |= tw_messages_errors(messages) > 0;
  for (size_t i = 0; i < tw_messages_count(messages); i++) {
    char text[2048];
    tw_message_print(tw_messages_at(messages, i), text, sizeof text);
    if (!said_before(cli->said, text)) {
      fputs(text, cli->err);
    }
  }
  const size_t errors = tw_messages_errors(messages);
  if (errors > TW_MESSAGE_LIMIT) {
    fprintf(cli->err, "%zu more errors are not shown\n", errors - TW_MESSAGE_LIMIT);
  }
}

tw_exit tw_cli_print_json(const tw_cli *cli, json_t *document)
{
  if (!document) {
    const tw_fault fault = {.status = TW_NO_MEMORY};
    return tw_cli_fault(cli, &fault);
  }
  const int failed = json_dumpf(document, cli->out, JSON_INDENT(2) | JSON_REAL_PRECISION(17));
  fputc('\n', cli->out);
  json_decref(document);
  return failed ? TW_EXIT_FILE : TW_EXIT_DONE;
}

/* the unit with a prefix for its first word only: "m/V" becomes "nm/V", never "/m" */
static bool takes_prefix(const char *unit)
{
  static const char *const plain[] = {"", "1", "deg", "rad", "g", "m^2", "m2", "d", "h", "K/s"};
  for (size_t i = 0; i < sizeof plain / sizeof plain[0]; i++) {
    if (strcmp(unit, plain[i]) == 0) {
      return false;
    }
  }
  return unit[0] != '1' && unit[0] != '/';
}

char *tw_show_digits(double value, const char *unit, int digits, char *out, size_t size)
{
  static const char *const prefix[] = {"f", "p", "n", "u", "m", "", "k", "M", "G"};
  if (!isfinite(value)) {
    snprintf(out, size, "-");
    return out;
  }
  if (strcmp(unit, "kg") == 0) { /* weights on a bench are grams */
    return tw_show_digits(1000 * value, "g", digits, out, size);
  }
  value = tw_shown_beside(value, value); /* no minus zero */
  int step = 5;
  if (value != 0 && takes_prefix(unit)) {
    step = (int)floor(log10(fabs(value) * (1 + 0.5 * pow(10, -digits))) / 3) + 5;
    step = step < 0 ? 0 : step > 8 ? 8 : step;
    /* what a machinist reads: 0.123 N rather than 123 mN, 1200 um rather than 1.2 mm is no gain */
    if (strcmp(unit, "N") == 0 && fabs(value) >= 0.01 && fabs(value) < 1000) {
      step = 5;
    }
  }
  const double shown = value / pow(10, 3 * (step - 5));
  const double size_of = fabs(shown) > 0 ? floor(log10(fabs(shown)) + 1e-12) : 0;
  int places = digits - 1 - (int)size_of;
  places = places < 0 ? 0 : places > 9 ? 9 : places;
  /* beyond the prefixes a power of ten reads better than a row of zeros */
  if (fabs(shown) > 0 && (fabs(shown) < 1e-3 || fabs(shown) >= 1e9)) {
    snprintf(out, size, "%.*g%s%s", digits, value, unit[0] ? " " : "", unit);
  } else {
    const bool bare = strcmp(unit, "1") == 0 || !unit[0];
    snprintf(out, size, "%.*f%s%s%s", places, shown, bare ? "" : " ", prefix[step],
             bare ? "" : unit);
  }
  return out;
}

char *tw_show(double value, const char *unit, char *out, size_t size)
{
  return tw_show_digits(value, unit, 3, out, size);
}

double tw_plain_zero(double value, int decimals)
{
  return fabs(value) < 0.5 * pow(10, -decimals) ? 0 : value;
}

char *tw_bar(double fraction, int width, char *out, size_t size)
{
  const double f = !(fraction > 0) ? 0 : fraction > 1 ? 1 : fraction;
  const int filled = (int)lround(f * width);
  size_t length = 0;
  if (size) {
    out[0] = '\0';
  }
  for (int i = 0; i < width && length + 2 < size; i++) {
    out[length++] = i < filled ? '#' : '.';
    out[length] = '\0';
  }
  return out;
}

/* ---- progress ------------------------------------------------------------------------------ */

static volatile sig_atomic_t interrupted;

static void on_interrupt(int number)
{
  (void)number;
  interrupted = 1;
}

bool tw_cli_interrupted(void)
{
  return interrupted != 0;
}

static double seconds_now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static bool tick(void *self, double done, const char *what)
{
  static _Thread_local double started, shown;
  const tw_cli *cli = self;
  const double now = seconds_now();
  if (started == 0) {
    started = now;
  }
  if (isatty(fileno(cli->err)) && now - started > 1 && now - shown > 0.2) {
    shown = now;
    char bar[32];
    fprintf(cli->err, "\r%s %s %3.0f %%", what, tw_bar(done, 24, bar, sizeof bar), 100 * done);
    if (done >= 1) {
      fprintf(cli->err, "\r\033[K");
    }
    fflush(cli->err);
  }
  return !interrupted;
}

tw_progress tw_cli_progress(tw_cli *cli)
{
  struct sigaction action = {.sa_handler = on_interrupt};
  sigaction(SIGINT, &action, NULL);
  return (tw_progress){tick, cli};
}

const char *tw_text_of(const json_t *object, const char *key)
{
  const char *text = json_string_value(json_object_get(object, key));
  return text ? text : "";
}

double tw_number_of(const json_t *object, const char *key)
{
  return json_number_value(json_object_get(object, key));
}
