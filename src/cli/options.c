/* options.c: the command line taken apart after the tables, nothing else. */
#include "verb.h"

#include "fit.h"

#include <errno.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const tw_option common_help[] = {
    {"help", NULL, "show this help (also -h)", false},
    {NULL, NULL, NULL, false},
};

static const tw_option *find_in(const tw_option *table, const char *name, size_t length)
{
  for (; table && table->name; table++) {
    if (strlen(table->name) == length && strncmp(table->name, name, length) == 0) {
      return table;
    }
  }
  return NULL;
}

static const tw_option *find(const tw_verb *verb, const char *name, size_t length)
{
  const tw_option *o = find_in(verb->options, name, length);
  if (!o && (verb->takes & TW_TAKES_JSON)) {
    o = find_in(tw_common_json, name, length);
  }
  if (!o && (verb->takes & TW_TAKES_CSV)) {
    o = find_in(tw_common_csv, name, length);
  }
  if (!o && (verb->takes & TW_TAKES_DESIGN)) {
    o = find_in(tw_common_design, name, length);
  }
  return o ? o : find_in(common_help, name, length);
}

static void unknown_option(const tw_cli *cli, const char *word)
{
  const char *names[64];
  size_t count = 0;
  const tw_option *const tables[] = {cli->verb->options,
                                     cli->verb->takes & TW_TAKES_JSON ? tw_common_json : NULL,
                                     cli->verb->takes & TW_TAKES_CSV ? tw_common_csv : NULL,
                                     cli->verb->takes & TW_TAKES_DESIGN ? tw_common_design : NULL};
  for (size_t t = 0; t < sizeof tables / sizeof tables[0]; t++) {
    for (const tw_option *o = tables[t]; o && o->name && count < 64; o++) {
      names[count++] = o->name;
    }
  }
  const char *near = tw_nearest_name(word, names, count);
  tw_cli_usage(cli,
               near ? "there is no option --%s; did you mean --%s?" : "there is no option --%s",
               word, near);
}

/* one word that starts with "--": an option, perhaps with "=text", perhaps with the next word as
 * its text; returns the words used, 0 on an error */
static int take_option(tw_cli *cli, int left, char **words)
{
  /* the two short spellings that every hand knows */
  const char *name = strcmp(words[0], "-o") == 0   ? "out"
                     : strcmp(words[0], "-h") == 0 ? "help"
                                                   : words[0] + 2;
  const char *equals = strchr(name, '=');
  const size_t length = equals ? (size_t)(equals - name) : strlen(name);
  const tw_option *option = find(cli->verb, name, length);
  if (!option) {
    unknown_option(cli, name);
    return 0;
  }
  if (!option->repeat && tw_cli_has(cli, option->name)) {
    tw_cli_usage(cli, "--%s is given twice", option->name);
    return 0;
  }
  int used = 1;
  const char *text = "";
  if (option->argument) {
    if (!equals && left < 2) {
      tw_cli_usage(cli, "--%s needs %s behind it", option->name, option->argument);
      return 0;
    }
    text = equals ? equals + 1 : words[used++];
  } else if (equals) {
    tw_cli_usage(cli, "--%s takes no value", option->name);
    return 0;
  }
  cli->given[cli->given_count].option = option;
  cli->given[cli->given_count++].text = text;
  return used;
}

static bool is_short(const char *word)
{
  return strcmp(word, "-o") == 0 || strcmp(word, "-h") == 0;
}

/* words into operands and options; `operands` and cli->given have room for all words */
static bool take_words(tw_cli *cli, int count, char **words, const char **operands)
{
  bool only_operands = false;
  for (int i = 0; i < count;) {
    if (!only_operands && strcmp(words[i], "--") == 0) {
      only_operands = true;
      i++;
    } else if (!only_operands && (strncmp(words[i], "--", 2) == 0 || is_short(words[i]))) {
      const int used = take_option(cli, count - i, &words[i]);
      if (used == 0) {
        return false;
      }
      i += used;
    } else if (!only_operands && words[i][0] == '-' && words[i][1] != '\0') {
      tw_cli_usage(cli, "%s: there are no short options; write --name", words[i]);
      return false;
    } else {
      operands[cli->count++] = words[i++];
    }
  }
  return true;
}

/* - is read once, by a verb that reads its file once */
static bool right_use_of_input(const tw_cli *cli)
{
  int inputs = 0;
  for (int i = 0; i < cli->count; i++) {
    inputs += strcmp(cli->operand[i], "-") == 0;
  }
  for (int i = 0; i < cli->given_count; i++) {
    inputs += strcmp(cli->given[i].text, "-") == 0;
  }
  if (inputs > 0 && (cli->verb->takes & TW_TAKES_A_FILE)) {
    tw_cli_usage(cli, "\"-\": %s needs a file, not the standard input", cli->verb->name);
    return false;
  }
  if (inputs > 1) {
    tw_cli_usage(cli, "\"-\" is given twice; the standard input can be read once");
    return false;
  }
  return true;
}

static bool right_number_of_operands(const tw_cli *cli)
{
  if (cli->count < cli->verb->least) {
    tw_cli_usage(cli, "%s is missing", cli->verb->operands);
    return false;
  }
  if (cli->verb->most >= 0 && cli->count > cli->verb->most) {
    tw_cli_usage(cli, "\"%s\" is one word too many", cli->operand[cli->verb->most]);
    return false;
  }
  return true;
}

static const tw_verb *find_verb(const char *name)
{
  for (const tw_verb *const *v = tw_verbs; *v; v++) {
    if (strcmp((*v)->name, name) == 0) {
      return *v;
    }
  }
  return NULL;
}

static int unknown_verb(const char *name, FILE *err)
{
  const char *names[64];
  size_t count = 0;
  for (const tw_verb *const *v = tw_verbs; *v && count < 64; v++) {
    names[count++] = (*v)->name;
  }
  const char *near = tw_nearest_name(name, names, count);
  fprintf(err, "error: there is no verb \"%s\"\n", name);
  if (near) {
    fprintf(err, "  hint: did you mean \"%s\"? All of them: tripwright --help\n", near);
  } else {
    fprintf(err, "  hint: all of them: tripwright --help\n");
  }
  return TW_EXIT_USAGE;
}

/* a result that could not be written is a failure, whatever the verb thought of it */
static int close_output(FILE *out, FILE *err, int code)
{
  int why = fflush(out) != 0 ? errno : 0;
  if (why || ferror(out)) {
    /* it failed some while ago and errno tells of something else: one byte more tells why */
    why = why == 0 && fileno(out) >= 0 && write(fileno(out), "\n", 1) < 0 ? errno : why;
    if (why == EPIPE) { /* whoever reads has enough */
      return code;
    }
    fprintf(err, "error: the result could not be written%s%s\n  hint: is the disk full?\n",
            why ? ": " : " to its end", why ? strerror(why) : "");
    return TW_EXIT_FILE;
  }
  return code;
}

static int without_verb(const char *word, FILE *out, FILE *err)
{
  if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0 || strcmp(word, "help") == 0) {
    tw_help(NULL, out);
  } else if (strcmp(word, "--version") == 0) {
    fprintf(out, "tripwright %s\n", TW_VERSION);
  } else if (strcmp(word, "--man") == 0) {
    tw_man_page(out);
  } else if (strcmp(word, "--completion") == 0) {
    tw_completion(out);
  } else {
    return unknown_verb(word, err);
  }
  return TW_EXIT_DONE;
}

/* the options after which a text is for another program, as it stands */
static bool for_a_program(const tw_cli *cli)
{
  static const char *const options[] = {"json", "csv", "schema", "flat", "apply"};
  for (size_t i = 0; i < sizeof options / sizeof options[0]; i++) {
    if (tw_cli_has(cli, options[i])) {
      return true;
    }
  }
  return (cli->verb->takes & TW_GIVES_A_FILE) != 0;
}

/* run with the text held back until it is whole, then as wide as the terminal */
static int run_fitted(tw_cli *cli)
{
  char *text = NULL;
  size_t length = 0;
  FILE *out = cli->out;
  FILE *held = for_a_program(cli) ? NULL : open_memstream(&text, &length);
  if (!held) {
    return (int)cli->verb->run(cli);
  }
  cli->out = held;
  const int code = (int)cli->verb->run(cli);
  cli->out = out;
  const bool lost = fclose(held) != 0;
  if (!lost) {
    tw_fit_print(text, tw_fit_width(out), tw_fit_coloured(out), out);
  }
  free(text);
  return lost ? TW_EXIT_INTERNAL : code;
}

/* memory ran out somewhere: that is the reason, whatever the verb took it for */
static int short_of_memory(const struct tw_told *told, FILE *err, int code)
{
  if ((told->memory || code == TW_EXIT_INTERNAL) && !told->anything) {
    fprintf(err, "error: %s\n", tw_status_text(TW_NO_MEMORY));
  }
  return told->memory ? TW_EXIT_INTERNAL : code;
}

static int run_verb(const tw_verb *verb, int count, char **words, FILE *out, FILE *err)
{
  const char **operands = tw_alloc((size_t)count + 1, sizeof *operands);
  tw_said said = {0};
  struct tw_told told = {false, false};
  tw_cli cli = {
      .verb = verb, .out = out, .err = err, .operand = operands, .said = &said, .told = &told};
  cli.given = tw_alloc((size_t)count + 1, sizeof *cli.given);
  int code = TW_EXIT_INTERNAL;
  if (!operands || !cli.given) {
    told.memory = true;
  } else if (!take_words(&cli, count, words, operands)) {
    code = TW_EXIT_USAGE;
  } else if (tw_cli_has(&cli, "help")) {
    tw_help(verb, out);
    code = TW_EXIT_DONE;
  } else {
    code = right_number_of_operands(&cli) && right_use_of_input(&cli) ? run_fitted(&cli)
                                                                      : TW_EXIT_USAGE;
  }
  code = close_output(out, err, short_of_memory(&told, err, code));
  tw_design_free(cli.last);
  tw_library_free(cli.library);
  tw_units_free(cli.units);
  tw_free(cli.given);
  tw_free(operands);
  return tw_cli_interrupted() && code == TW_EXIT_DONE ? TW_EXIT_INTERRUPTED : code;
}

int tw_cli_main(int argc, char **argv, FILE *out, FILE *err)
{
  if (argc < 2) {
    tw_help(NULL, err);
    return TW_EXIT_USAGE;
  }
  const tw_verb *verb = find_verb(argv[1]);
  if (!verb) {
    return close_output(out, err, without_verb(argv[1], out, err));
  }
  return run_verb(verb, argc - 2, argv + 2, out, err);
}
