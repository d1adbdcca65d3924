/* verb_log.c: the unit log: a word behind the verb says what to do with it. */
#include "log_parts.h"

#include <string.h>

#define OF_BODY                                                                                    \
  " at revision lot part piece foreseen hours-foreseen measure value with step passed what fault " \
  "process drawn hours "                                                                           \
  "requirement to why note wrong document ids "

static const tw_log_word words[] = {
    {"add", "KIND [UNIT]", 1, 2, OF_BODY, "enter something", tw_log_add},
    {"correct", "ID", 1, 1, OF_BODY, "a new entry in place of an earlier one", tw_log_correct},
    {"withdraw", "ID", 1, 1, " at why ids ", "an earlier entry does not hold", tw_log_withdraw},
    {"history", "[UNIT]", 0, 1, " ids current ", "everything about a unit, or about all",
     tw_log_history},
    {"measured", "MEASURE", 1, 1, " revision lot ", "one figure of all units", tw_log_measured},
    {"lot", "LOT", 1, 1, " ids ", "everything about a lot", tw_log_lot},
    {"fault", "TEXT", 1, 1, " ids ", "every time a fault was entered", tw_log_fault},
    {"instrument", "[NAME]", 0, 1, " ids ",
     "what was read with an instrument; without NAME, with one that was found wrong",
     tw_log_instrument},
    {"yield", "", 0, 0, " ", "passed at the first test, by step and month", tw_log_yields},
    {"open", "", 0, 0, " ", "units that have not left, and what they wait for", tw_log_open_word},
    {"returns", "", 0, 0, " ids ", "what came back, with what was read before", tw_log_returns},
    {"hours", "", 0, 0, " ", "hours foreseen and real, by step", tw_log_hours_word},
    {"unread", "UNIT DESIGN", 2, 2, " set shop parts units ",
     "checks of the bench card that were never read", tw_log_unread},
    {"made", "DESIGN", 1, 1, " set shop parts units ",
     "own offset and scatter of the shop's processes", tw_log_made_word},
    {"chart", "MEASURE", 1, 1, " revision lot ", "does a figure drift from unit to unit?",
     tw_log_chart},
    {"agree", "MEASURE", 1, 1, " revision lot ", "measured against foreseen", tw_log_agree},
    {"together", "MEASURE MEASURE", 2, 2, " lot ", "do two figures go together?", tw_log_together},
    {"check", "", 0, 0, " ", "is the log whole?", tw_log_check_file},
    {"backup", "FILE", 1, 1, " ", "a checked copy", tw_log_backup},
    {"export", "FILE", 1, 1, " ", "all of it as JSON lines", tw_log_export},
    {"import", "FILE...", 1, -1, " ", "take over JSON lines", tw_log_import},
    {"merge", "FILE...", 1, -1, " ", "take over other logs", tw_log_merge},
    {"share", "FOLDER", 1, 1, " ", "pass entries on through a synced folder, take the others'",
     tw_log_share},
};
enum { WORDS = sizeof words / sizeof words[0] };

static const tw_log_word *word_named(tw_cli *cli, const char *name)
{
  const char *names[WORDS];
  for (size_t i = 0; i < WORDS; i++) {
    names[i] = words[i].name;
    if (strcmp(words[i].name, name) == 0) {
      return &words[i];
    }
  }
  const char *near = tw_nearest_name(name, names, WORDS);
  tw_cli_usage(cli, "log: there is no word \"%s\"%s%s%s", name, near ? "; did you mean " : "",
               near ? near : "", near ? "?" : "");
  return NULL;
}

/* the word's number of operands, and only options that mean something with it */
static bool fits(tw_cli *cli, const tw_log_word *word)
{
  const int operands = cli->count - 1;
  if (operands < word->least) {
    tw_cli_usage(cli, "log %s: %s is missing", word->name, word->operands);
    return false;
  }
  if (word->most >= 0 && operands > word->most) {
    tw_cli_usage(cli, "log %s: \"%s\" is one word too many", word->name,
                 cli->operand[word->most + 1]);
    return false;
  }
  for (int i = 0; i < cli->given_count; i++) {
    char name[40];
    snprintf(name, sizeof name, " %s ", cli->given[i].option->name);
    if (!strstr(" log anywhere json ", name) && !strstr(word->options, name)) {
      tw_cli_usage(cli, "--%s does not belong to log %s", cli->given[i].option->name, word->name);
      return false;
    }
  }
  return true;
}

static tw_exit run(tw_cli *cli)
{
  const tw_log_word *word = word_named(cli, cli->operand[0]);
  return word && fits(cli, word) ? word->run(cli) : TW_EXIT_USAGE;
}

static const tw_option options[] = {
    {"log", "FILE", "the log (default: TRIPWRIGHT_LOG, else log.db in this folder)", false},
    {"at", "DATE", "when it was, UTC: 2026-11-29 or 2026-11-29T12:00:00Z (default: now)", false},
    {"measure", "NAME", "what was read: a measure, a check of the bench card, a dimension", false},
    {"value", "QUANTITY", "what it showed, such as \"0.105 N\" or \"12.3 nF ± 0.1 nF\"", false},
    {"with", "INSTRUMENT", "what it was read with", false},
    {"revision", "TEXT", "of the design", false},
    {"lot", "TEXT", "of a part", false},
    {"part", "TEXT", "which part", false},
    {"piece", "TEXT", "a piece that belongs to no unit yet, such as a disc of a lot", false},
    {"foreseen", "QUANTITY", "what the design foresaw of it, with its limits", false},
    {"hours-foreseen", "NUMBER", "that it was to take", false},
    {"process", "NAME", "by which a dimension was made, as in the shop file", false},
    {"drawn", "QUANTITY", "what the drawing asked for", false},
    {"step", "TEXT", "of the work or the test", false},
    {"passed", "yes|no", "a test", false},
    {"requirement", "NAME", "which it was held against", false},
    {"what", "TEXT", "what was adjusted, or what happened", false},
    {"fault", "TEXT", "what was wrong", false},
    {"wrong", "INSTRUMENT", "an instrument that was found wrong", false},
    {"hours", "NUMBER", "that it took", false},
    {"to", "TEXT", "to whom it went", false},
    {"why", "TEXT", "of a withdrawal or a return", false},
    {"note", "TEXT", "anything else", false},
    {"document", "FILE", "keep this file with the entry", false},
    {"ids", NULL, "show the ids of entries", false},
    {"current", NULL, "leave out what was corrected", false},
    {"anywhere", NULL, "write although the folder is synced or shared", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_log = {
    .name = "log",
    .operands = "WORD [...]",
    .least = 1,
    .most = -1,
    .summary = "the unit log: what was built, read, tested and shipped, kept for good",
    .details =
        "add KIND [UNIT] enters something (KIND: design, unit, lot, fitted, reading, capture, "
        "test, adjustment, event, note, shipped, returned); correct ID and withdraw ID add an "
        "entry that takes the place of an earlier one; nothing is ever changed or deleted.\n"
        "history [UNIT] shows what there is; lot LOT, fault TEXT, instrument [NAME], measured "
        "MEASURE, yield, open, returns, hours and unread UNIT DESIGN answer a question each.\n"
        "made DESIGN, chart MEASURE, agree MEASURE and together MEASURE MEASURE say what the log "
        "teaches: own offset and scatter, drift, the tool against the bench, what goes together.\n"
        "check asks whether the log is whole; backup FILE "
        "copies it.\n"
        "export FILE, import FILE... and merge LOG... join logs; share FOLDER does so through a "
        "synced folder. The log itself belongs into a folder of one machine.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
