/* verb_certificate.c: the certificate of one unit: its readings, decided by a named rule. */
#include "batch_in.h"

#include "tripwright/digest.h"
#include "tripwright/files.h"
#include "tripwright/report_certificate.h"

#include <ctype.h>
#include <string.h>
#include <time.h>

typedef struct certificate {
  tw_cli_study s;
  tw_builds *builds;
  tw_certified_result result[TW_MEASURE_COUNT];
  size_t count;
  tw_certify_ask ask;
  tw_certified_all all;
  tw_certificate paper;
  char digest[TW_SHA256_TEXT], date[16], seal[TW_SHA256_TEXT];
  char *text; /* the canonical document */
} certificate;

/* ---- reading --------------------------------------------------------------------------------- */

static tw_certified_result *result_named(certificate *c, const char *name, size_t length)
{
  for (size_t i = 0; i < c->count; i++) {
    const char *own = tw_measure_about(c->result[i].id)->name;
    if (strlen(own) == length && strncmp(own, name, length) == 0) {
      return &c->result[i];
    }
  }
  return NULL;
}

/* "NAME=TEXT" of an option: the result of that requirement and where its text starts */
static tw_certified_result *split(certificate *c, const char *option, const char *given,
                                  const char **text)
{
  const char *equals = strchr(given, '=');
  if (!equals) {
    tw_cli_usage(c->s.cli, "--%s: \"%s\" is not REQUIREMENT=...", option, given);
    return NULL;
  }
  tw_certified_result *r = result_named(c, given, (size_t)(equals - given));
  *text = equals + 1;
  if (!r) {
    tw_cli_usage(c->s.cli, "--%s: the file asks for nothing named \"%.*s\"", option,
                 (int)(equals - given), given);
  }
  return r;
}

/* "0.105 N ± 0.006 N": the uncertainty is the expanded one, k = 2 */
static tw_exit read_value(certificate *c, tw_certified_result *r, const char *text)
{
  const tw_measure_info *about = tw_measure_about(r->id);
  tw_unit unit;
  tw_quantity q;
  tw_fault fault = {0};
  r->read = true;
  if (r->limit->rule == TW_RULE_IS) {
    r->word = text;
    return TW_EXIT_DONE;
  }
  tw_status status = tw_units_find(c->s.study->units, about->shown, &unit, &fault);
  if (status == TW_OK) {
    status = tw_quantity_read(c->s.study->units, text, &unit, &q, NULL, &fault);
  }
  if (status == TW_OK && !(q.tolerance.plus > 0 && q.tolerance.plus <= q.tolerance.minus * 1.001)) {
    status = tw_fail(&fault, TW_BAD_INPUT, about->name, "write 0.105 N ± 0.006 N, with U for k = 2",
                     "\"%.60s\" has no expanded uncertainty", text);
  }
  if (status != TW_OK) {
    snprintf(fault.field, sizeof fault.field, "%s", about->name);
    return tw_cli_fault(c->s.cli, &fault);
  }
  r->value = tw_measure_compared(r->id, q.number);
  r->u = q.tolerance.plus / 2;
  return TW_EXIT_DONE;
}

/* words that claim what only a document can show */
static const char *claim_in(const char *text)
{
  static const char *const claims[] = {"calibrat", "accredit", "in accordance", "traceab",
                                       "certif"};
  char low[200];
  size_t n = 0;
  for (; text && text[n] && n + 1 < sizeof low; n++) {
    low[n] = (char)tolower((unsigned char)text[n]);
  }
  low[n] = '\0';
  for (size_t i = 0; i < sizeof claims / sizeof claims[0]; i++) {
    if (strstr(low, claims[i])) {
      return claims[i];
    }
  }
  return NULL;
}

static tw_exit refuse_claims(const certificate *c)
{
  for (size_t i = 0; i < c->count; i++) {
    const tw_certified_result *r = &c->result[i];
    if (!r->document && claim_in(r->instrument)) {
      return tw_cli_usage(c->s.cli,
                          "--instrument: \"%s\" claims what only a document shows; name it with "
                          "--document %s=...",
                          r->instrument, tw_measure_about(r->id)->name);
    }
  }
  const char *free_text[] = {c->paper.issued_by, c->paper.temperature};
  for (size_t i = 0; i < 2; i++) {
    if (claim_in(free_text[i])) {
      return tw_cli_usage(c->s.cli, "\"%s\" claims what only a document shows; leave the claim out",
                          free_text[i]);
    }
  }
  return TW_EXIT_DONE;
}

static tw_exit read_results(certificate *c)
{
  static const char *const option[] = {"read", "instrument", "document"};
  tw_cli *cli = c->s.cli;
  for (int id = 0; id < TW_MEASURE_COUNT; id++) {
    if (c->s.limits.of[id].given) {
      c->result[c->count++] =
          (tw_certified_result){.id = (tw_measure_id)id, .limit = &c->s.limits.of[id]};
    }
  }
  for (int o = 0; o < 3; o++) {
    const char *given;
    for (int k = 0; (given = tw_cli_text_at(cli, option[o], k)) != NULL; k++) {
      const char *text;
      tw_certified_result *r = split(c, option[o], given, &text);
      if (!r) {
        return TW_EXIT_USAGE;
      }
      if (o == 0) {
        const tw_exit code = read_value(c, r, text);
        if (code != TW_EXIT_DONE) {
          return code;
        }
      } else if (o == 1) {
        r->instrument = text;
      } else {
        r->document = text;
      }
    }
  }
  return refuse_claims(c);
}

static bool read_rule(certificate *c)
{
  static const char *const words[] = {"simple", "guard", "risk"};
  const char *word = tw_cli_text(c->s.cli, "rule", "guard");
  for (int i = 0; i < 3; i++) {
    if (strcmp(word, words[i]) == 0) {
      c->ask.rule = (tw_decision_rule)i;
      return true;
    }
  }
  tw_cli_usage(c->s.cli, "--rule: \"%s\" is none of: simple, guard, risk", word);
  return false;
}

static tw_exit prepare(certificate *c, long *builds)
{
  tw_cli *cli = c->s.cli;
  const time_t now = time(NULL);
  struct tm day;
  c->ask.risk = 0.01;
  c->ask.seed = 1;
  if (!read_rule(c) || !tw_cli_share(cli, "risk", &c->ask.risk) ||
      !tw_cli_count(cli, "batch", 50, 100000, builds)) {
    return TW_EXIT_USAGE;
  }
  strftime(c->date, sizeof c->date, "%Y-%m-%d", gmtime_r(&now, &day));
  c->ask.batch_agreed = tw_cli_has(cli, "agreed");
  c->paper = (tw_certificate){.unit = tw_cli_text(cli, "unit", "001"),
                              .date = tw_cli_text(cli, "date", c->date),
                              .issued_by = tw_cli_text(cli, "by", NULL),
                              .temperature = tw_cli_text(cli, "temperature", NULL),
                              .replaces = tw_cli_text(cli, "replaces", NULL)};
  if (c->paper.replaces && !tw_is_sha256(c->paper.replaces)) {
    return tw_cli_usage(cli, "--replaces: the 64 digits of the old certificate are wanted");
  }
  if (c->s.study->goals == 0) {
    return tw_cli_usage(cli, "the file has no requirements, so there is nothing to certify");
  }
  return read_results(c);
}

/* ---- printing -------------------------------------------------------------------------------- */

static void print_result(const certificate *c, const tw_certified_result *r)
{
  FILE *out = c->s.cli->out;
  const tw_measure_info *about = tw_measure_about(r->id);
  char value[48] = "-", u[48] = "";
  if (r->word) {
    snprintf(value, sizeof value, "%s", r->word);
  } else if (r->read) {
    tw_show_digits(r->value, about->unit, 4, value, sizeof value);
    tw_show(2 * r->u, about->unit, u, sizeof u);
  }
  fprintf(out, "  %-24s %-14s %s%s%s: %s", about->name, r->limit->text, value, u[0] ? " ± " : "", u,
          tw_certified_text(r->verdict));
  if (r->read && !r->word) {
    fprintf(out, ", conforms with %.1f %%", 100 * r->conforms);
  }
  fprintf(out, "\n");
  if (r->has_batch) {
    fprintf(out,
            "    of all units %.2f %% bad and accepted, %.2f %% good and rejected; %.2f %% of "
            "those accepted bad\n",
            100 * r->risks.consumer, 100 * r->risks.producer, 100 * r->risks.bad_of_accepted);
  }
  if (r->read) {
    fprintf(out, "    %s; %s%s\n", r->instrument ? r->instrument : "instrument not stated",
            r->document ? "by document " : "no document: not traceable",
            r->document ? r->document : "");
  }
}

static void print_text(const certificate *c)
{
  FILE *out = c->s.cli->out;
  fprintf(out, "Unit %s, %s\nDecision rule: %s.\n\n", c->paper.unit, c->paper.date,
          tw_decision_text(c->ask.rule));
  for (size_t i = 0; i < c->count; i++) {
    print_result(c, &c->result[i]);
  }
  fprintf(out, "\n%zu of %zu requirements read: %zu pass, %zu do not, %zu not decided.\n",
          c->all.read, c->count, c->all.passes, c->all.fails, c->all.open);
  if (c->all.has_batch) {
    fprintf(out,
            "All together, counted over %zu builds: %.2f %% of all units are bad and accepted. "
            "By the normal laws above it would be at most %.2f %%.\n",
            c->builds->count, 100 * c->all.together, 100 * c->all.sum);
  }
  fprintf(out, "SHA-256 of the document: %s\n", c->seal);
}

/* FILE.html and FILE.json, whose SHA-256 the paper shows */
static tw_exit write_files(certificate *c, const char *base)
{
  char path[1024], *html = NULL;
  tw_fault fault = {0};
  snprintf(path, sizeof path, "%.1000s.json", base);
  tw_status status = tw_file_replace(path, c->text, strlen(c->text), &fault);
  if (status == TW_OK) {
    fprintf(c->s.cli->out, "%s\n", path);
    status = tw_certificate_html(&c->paper, c->seal, &html, &fault);
  }
  if (status == TW_OK) {
    snprintf(path, sizeof path, "%.1000s.html", base);
    status = tw_file_replace(path, html, strlen(html), &fault);
  }
  tw_free(html);
  if (status != TW_OK) {
    return tw_cli_fault(c->s.cli, &fault);
  }
  fprintf(c->s.cli->out, "%s\n", path);
  return TW_EXIT_DONE;
}

/* ---- the verb -------------------------------------------------------------------------------- */

static tw_exit verdict(const certificate *c)
{
  return c->all.passes == c->count ? TW_EXIT_DONE : TW_EXIT_NOT_MET;
}

static tw_exit answer(certificate *c)
{
  tw_cli *cli = c->s.cli;
  tw_fault fault = {0};
  json_t *d = tw_document_certificate(&c->paper);
  tw_exit code = TW_EXIT_DONE;
  if (tw_canonical_sha256(d, c->seal, &c->text, &fault) != TW_OK) {
    json_decref(d);
    return tw_cli_fault(cli, &fault);
  }
  const char *base = tw_cli_text(cli, "out", NULL);
  if (base) {
    code = write_files(c, base);
  }
  if (code == TW_EXIT_DONE && tw_cli_has(cli, "json")) {
    json_object_set_new(d, "sha256", json_string(c->seal));
    return (code = tw_cli_print_json(cli, d)) == TW_EXIT_DONE ? verdict(c) : code;
  }
  json_decref(d);
  if (code == TW_EXIT_DONE) {
    print_text(c);
    code = verdict(c);
  }
  return code;
}

static tw_exit compute(certificate *c, long builds)
{
  tw_cli *cli = c->s.cli;
  tw_fault fault = {0};
  tw_status status = TW_OK;
  if (builds > 0) {
    status = tw_run_builds(c->s.study, (size_t)builds, &c->s.progress, &c->builds, &fault);
    c->ask.study = c->s.study;
    c->ask.builds = c->builds;
  }
  if (status == TW_OK) {
    status = tw_certify(c->result, c->count, &c->ask, &c->all, &fault);
  }
  if (status == TW_OK) {
    status = tw_sha256_file(cli->operand[0], c->digest, NULL, &fault);
  }
  if (status != TW_OK) {
    return status == TW_CANCELLED ? TW_EXIT_INTERRUPTED : tw_cli_fault(cli, &fault);
  }
  c->paper.design = c->s.design;
  c->paper.units = c->s.study->units;
  c->paper.system = c->s.system;
  c->paper.digest = c->digest;
  c->paper.ask = &c->ask;
  c->paper.builds = builds > 0 ? (size_t)builds : 0;
  c->paper.result = c->result;
  c->paper.count = c->count;
  c->paper.all = &c->all;
  return answer(c);
}

static tw_exit run(tw_cli *cli)
{
  long builds = 0;
  certificate *c = tw_alloc(1, sizeof *c);
  if (!c) {
    return TW_EXIT_INTERNAL;
  }
  tw_exit code = tw_cli_study_open(cli, cli->operand[0], &c->s);
  if (code == TW_EXIT_DONE) {
    code = prepare(c, &builds);
  }
  if (code == TW_EXIT_DONE) {
    code = compute(c, builds);
  }
  tw_builds_free(c->builds);
  tw_free(c->text);
  tw_cli_study_close(&c->s);
  tw_free(c);
  return code;
}

static const tw_option options[] = {
    {"unit", "NUMBER", "number of the unit (001)", false},
    {"read", "NAME=VALUE", "a reading with its expanded uncertainty (k = 2)", true},
    {"instrument", "NAME=TEXT", "what a requirement was read with", true},
    {"document", "NAME=TEXT", "the document that makes that instrument traceable", true},
    {"rule", "RULE", "simple, guard (1.645 u) or risk (guard)", false},
    {"risk", "SHARE", "consumer's risk that --rule risk keeps (1%)", false},
    {"batch", "N", "take N builds of the design as the batch: risks are told", false},
    {"agreed", NULL, "the customer agreed that the batch counts for this unit", false},
    {"date", "DAY", "of the measurement (today)", false},
    {"temperature", "TEXT", "at which it was measured", false},
    {"by", "NAME", "who issues it", false},
    {"replaces", "SHA256", "the certificate that this one corrects", false},
    {"out", "FILE", "write FILE.json and FILE.html", false},
    TW_STUDY_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_certificate = {
    .name = "certificate",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "the certificate of one unit: its readings, decided by a named rule",
    .details = "Each requirement with its reading, U, limit, verdict (passes, does not pass, not "
               "decided) and the chance that it conforms. With --batch the risks of the rule stand "
               "beside it: bad and accepted, good and rejected, of all units and of those accepted "
               "(JCGM 106). The paper shows the SHA-256 of the document. Words that claim more "
               "than was done are refused without a document.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN | TW_TAKES_A_FILE,
    .run = run,
};
