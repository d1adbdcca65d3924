/* capture_in.c: the options of recordings, and reading one. */
#include "capture_in.h"

#include "readings_in.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

/* a quantity with its limits; *u: half of the limits' distance is two standard uncertainties */
static bool quantity(tw_cli *cli, const char *option, const char *unit, double *value, double *u)
{
  const char *text = tw_cli_text(cli, option, NULL);
  if (!text) {
    return true;
  }
  tw_units *units = tw_cli_units(cli);
  tw_fault fault = {0};
  tw_quantity q = {0};
  tw_unit kind;
  if (!units || tw_units_find(units, unit, &kind, &fault) != TW_OK ||
      tw_quantity_read(units, text, &kind, &q, NULL, &fault) != TW_OK) {
    tw_cli_usage(cli, "--%s: %s%s%s", option, fault.text, fault.hint[0] ? "; " : "", fault.hint);
    return false;
  }
  if (!(q.number > 0)) {
    tw_cli_usage(cli, "--%s: %s is not above 0", option, text);
    return false;
  }
  *value = q.number;
  if (u) {
    *u = q.tolerance.given ? (q.tolerance.plus + q.tolerance.minus) / 4 : 0;
  }
  return true;
}

/* the same with the uncertainty as a share of the value */
static bool relative(tw_cli *cli, const char *option, const char *unit, double *value, double *u)
{
  double absolute = 0;
  if (!quantity(cli, option, unit, value, &absolute)) {
    return false;
  }
  *u = tw_cli_has(cli, option) ? absolute / *value : *u;
  return true;
}

static bool word_of(const tw_cli *cli, const char *option, const char *const *words,
                    const char *signs, char *out)
{
  const char *text = tw_cli_text(cli, option, NULL);
  if (!text) {
    return true;
  }
  for (size_t i = 0; words[i]; i++) {
    if (strcmp(text, words[i]) == 0 || (text[0] == signs[i] && !text[1])) {
      *out = signs[i];
      return true;
    }
  }
  tw_cli_usage(cli, "--%s: write %s or %s", option, words[0], words[1]);
  return false;
}

static bool units_of(const tw_cli *cli, tw_capture_reading *r)
{
  const char *text = tw_cli_text(cli, "columns-in", NULL);
  if (!text) {
    return true;
  }
  const size_t time = strcspn(text, ",");
  if (time == 0 || time >= sizeof r->time_unit || strlen(text) >= time + sizeof r->value_unit) {
    tw_cli_usage(cli, "--columns-in: write the units of time and values, as in ms,mV");
    return false;
  }
  snprintf(r->time_unit, sizeof r->time_unit, "%.*s", (int)time, text);
  snprintf(r->value_unit, sizeof r->value_unit, "%s", text[time] ? text + time + 1 : "");
  return true;
}

static bool read_reading(tw_cli *cli, tw_capture_reading *r)
{
  static const char *const separators[] = {"comma", "semicolon", "tab", NULL};
  static const char *const decimals[] = {"point", "comma", NULL};
  double rate = (double)NAN;
  tw_capture_reading_start(r);
  if (!word_of(cli, "separator", separators, ",;\t", &r->separator) ||
      !word_of(cli, "decimal", decimals, ".,", &r->decimal) ||
      !quantity(cli, "interval", "s", &r->interval, NULL) ||
      !quantity(cli, "rate", "Hz", &rate, NULL) ||
      !tw_cli_number(cli, "pretrigger", 0, 1, &r->pretrigger) || !units_of(cli, r)) {
    return false;
  }
  if (isfinite(rate)) {
    r->interval = 1 / rate;
  }
  return true;
}

/* "2 g, 5 g, 10 g" */
static bool read_weights(tw_cli *cli, tw_capture_setup *s)
{
  const char *text = tw_cli_text(cli, "weight", NULL);
  tw_units *units = tw_cli_units(cli);
  tw_unit kg;
  tw_fault fault = {0};
  if (!text) {
    return true;
  }
  if (!units || tw_units_find(units, "kg", &kg, &fault) != TW_OK) {
    return false;
  }
  for (const char *at = text; *at;) {
    char one[64];
    tw_quantity q = {0};
    const size_t n = strcspn(at, ",");
    snprintf(one, sizeof one, "%.*s", n < 63 ? (int)n : 63, at);
    at += n + (at[n] == ',');
    if (s->weights == TW_CAPTURE_WEIGHTS) {
      tw_cli_usage(cli, "--weight: more than %d weights", TW_CAPTURE_WEIGHTS);
      return false;
    }
    if (tw_quantity_read(units, one, &kg, &q, NULL, &fault) != TW_OK || !(q.number > 0)) {
      tw_cli_usage(cli, "--weight: %s", fault.text[0] ? fault.text : "a weight is above 0");
      return false;
    }
    s->weight[s->weights++] = q.number;
    const double u = (q.tolerance.plus + q.tolerance.minus) / 4 / q.number;
    s->weight_u = q.tolerance.given && u > s->weight_u ? u : s->weight_u;
  }
  return true;
}

/* the row of the library or of the shop file, then what the options say on top */
static bool read_instrument(tw_cli *cli, tw_capture_setup *s)
{
  tw_capture_instrument *in = &s->instrument;
  const char *id = tw_cli_text(cli, "instrument", NULL);
  const char *shop = tw_cli_text(cli, "shop", access("shop.yaml", R_OK) == 0 ? "shop.yaml" : NULL);
  if (id) {
    tw_library *library = tw_cli_library(cli);
    tw_fault fault = {0};
    tw_messages *m = library && shop ? tw_messages_new() : NULL;
    if (m) {
      const tw_status status =
          tw_library_add_shop(library, TW_KIND_INSTRUMENT, shop, tw_cli_units(cli), m);
      tw_cli_messages(cli, m);
      tw_messages_free(m);
      library = status == TW_OK ? library : NULL;
    }
    if (!library) {
      return false;
    }
    if (tw_capture_instrument_of(library, id, in, &fault) != TW_OK) {
      tw_cli_usage(cli, "--instrument: %s; %s", fault.text, fault.hint);
      return false;
    }
  }
  in->known = in->known || tw_cli_has(cli, "input-resistance");
  return quantity(cli, "input-resistance", "ohm", &in->resistance, &in->resistance_u) &&
         quantity(cli, "input-capacitance", "F", &in->capacitance, &in->capacitance_u) &&
         quantity(cli, "coupling", "F", &in->coupling, &in->coupling_u) &&
         quantity(cli, "bandwidth", "Hz", &in->bandwidth, NULL) &&
         quantity(cli, "full-scale", "V", &in->full_scale, NULL) &&
         tw_cli_number(cli, "attenuation", 1e-6, 1e6, &in->attenuation);
}

static bool read_numbers(tw_cli *cli, tw_capture_setup *s)
{
  return relative(cli, "bias-resistor", "ohm", &s->bias_resistance, &s->bias_resistance_u) &&
         relative(cli, "node-capacitance", "F", &s->node_capacitance, &s->node_capacitance_u) &&
         quantity(cli, "series-resistor", "ohm", &s->series_resistance, NULL) &&
         quantity(cli, "tone", "V", &s->tone_voltage, NULL) &&
         quantity(cli, "film-capacitor", "F", &s->film_capacitor, NULL) &&
         quantity(cli, "reach", "m", &s->reach, NULL) &&
         quantity(cli, "seat-radius", "m", &s->seat_radius, NULL) &&
         tw_cli_quantity(cli, "azimuth", "deg", &s->azimuth) &&
         quantity(cli, "feed", "mm/min", &s->feed, NULL) &&
         quantity(cli, "cut-time", "s", &s->cut_time, NULL) &&
         tw_cli_number(cli, "channel-ratio", 1e-6, 1e6, &s->channel_ratio) &&
         tw_cli_count(cli, "channel", 1, TW_CAPTURE_CHANNELS, &s->channel);
}

static tw_exit read_act(const tw_cli *cli, tw_capture_setup *s)
{
  const char *word = tw_cli_text(cli, "act", NULL);
  s->act = word ? tw_capture_act_named(word) : TW_CAPTURE_UNKNOWN;
  if (s->act == TW_CAPTURE_ACT_COUNT) {
    const char *names[TW_CAPTURE_ACT_COUNT];
    for (int k = 0; k < TW_CAPTURE_ACT_COUNT; k++) {
      names[k] = tw_capture_act_word((tw_capture_act)k);
    }
    const char *near = tw_nearest_name(word, names, TW_CAPTURE_ACT_COUNT);
    return tw_cli_usage(cli, "--act: no act is called \"%s\"%s%s%s", word,
                        near ? "; did you mean " : "; --acts lists them", near ? near : "",
                        near ? "?" : "");
  }
  return TW_EXIT_DONE;
}

/* volts at full scale from the tone recorded at the same setting */
static tw_exit read_gain(tw_cli *cli, tw_capture_setup *s)
{
  const char *file = tw_cli_text(cli, "gain-from", NULL);
  if (!file) {
    return TW_EXIT_DONE;
  }
  if (!(s->tone_voltage > 0)) {
    return tw_cli_usage(cli, "--gain-from needs --tone, the effective value of the tone in it");
  }
  tw_capture_setup tone;
  tw_capture_reading plain;
  tw_capture_setup_start(&tone);
  tw_capture_reading_start(&plain);
  tone.act = TW_CAPTURE_TONE;
  tone.tone_voltage = s->tone_voltage;
  tw_capture_record *record = NULL;
  tw_capture_result *result = NULL;
  const tw_exit code = tw_cli_capture(cli, file, &tone, &plain, &record, &result);
  if (code == TW_EXIT_DONE) {
    const tw_capture_feature *f = tw_capture_feature_of(result, "volts_at_full_scale");
    s->instrument.full_scale = f ? f->value : (double)NAN;
    s->instrument.gain_u = f ? f->u / f->value : 0;
  }
  tw_free(result);
  tw_capture_record_free(record);
  return code;
}

tw_exit tw_cli_capture_setup(tw_cli *cli, tw_capture_setup *setup, tw_capture_reading *reading)
{
  tw_capture_setup_start(setup);
  const tw_exit act = read_act(cli, setup);
  if (act != TW_EXIT_DONE) {
    return act;
  }
  setup->push = tw_cli_has(cli, "push");
  if (!read_reading(cli, reading) || !read_instrument(cli, setup) || !read_numbers(cli, setup) ||
      !read_weights(cli, setup)) {
    return cli->told->memory ? TW_EXIT_INTERNAL : TW_EXIT_USAGE;
  }
  return read_gain(cli, setup);
}

tw_exit tw_cli_capture(tw_cli *cli, const char *file, const tw_capture_setup *setup,
                       const tw_capture_reading *reading, tw_capture_record **record,
                       tw_capture_result **result)
{
  tw_fault fault = {0};
  *record = NULL;
  *result = NULL;
  tw_messages *m = tw_messages_new();
  tw_status status = m ? tw_capture_read(file, reading, m, record) : TW_NO_MEMORY;
  if (m) {
    tw_cli_messages(cli, m);
  }
  if (status == TW_OK) {
    status = tw_capture_evaluate(*record, setup, result, &fault);
    if (status != TW_OK && m) {
      tw_messages *why = tw_messages_new();
      if (why) {
        tw_messages_add_fault(why, &fault, (tw_place){.file = file}, NULL);
        tw_cli_messages(cli, why);
      }
      tw_messages_free(why);
    }
  }
  tw_messages_free(m);
  return tw_exit_of(status);
}
