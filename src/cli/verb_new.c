/* verb_new.c: a first design file of a seat family, with what to fill in first. */
#include "verb.h"

#include <errno.h>
#include <string.h>

/* never over a file that is there */
static tw_exit write_new(tw_cli *cli, const char *path, const char *text)
{
  FILE *file = fopen(path, "wx");
  if (!file) {
    const bool there = errno == EEXIST;
    fprintf(cli->err, "error: %s: %s\n  hint: %s\n", path,
            there ? "there is a file of this name already" : strerror(errno),
            there ? "choose another name; nothing was written" : "does the folder exist?");
    return TW_EXIT_FILE;
  }
  const bool bad = fputs(text, file) < 0 || fflush(file) != 0;
  const int why = errno;
  if (fclose(file) != 0 || bad) {
    fprintf(cli->err, "error: %s: %s\n", path, strerror(why));
    remove(path);
    return TW_EXIT_FILE;
  }
  fprintf(cli->out, "%s is written. Next: change what differs, then\n  tripwright check %s\n", path,
          path);
  return TW_EXIT_DONE;
}

/* the choice that an option names, -1 where it is not given; false: no such word, said */
static bool choice_of(tw_cli *cli, const char *option, tw_choice_set set, int *choice)
{
  const char *word = tw_cli_text(cli, option, NULL);
  *choice = word ? tw_choice_find(set, word) : -1;
  if (!word || *choice >= 0) {
    return true;
  }
  char known[200] = "";
  for (size_t i = 0; i < tw_choice_count(set); i++) {
    const size_t used = strlen(known);
    snprintf(known + used, sizeof known - used, "%s%s", i ? ", " : "", tw_choice_word(set, (int)i));
  }
  tw_cli_usage(cli, "--%s: \"%s\" is none of %s", option, word, known);
  return false;
}

static tw_exit run(tw_cli *cli)
{
  int seat, circuit, link;
  if (!choice_of(cli, "seat", TW_SET_SEAT, &seat) ||
      !choice_of(cli, "circuit", TW_SET_CIRCUIT, &circuit) ||
      !choice_of(cli, "link", TW_SET_LINK, &link)) {
    return TW_EXIT_USAGE;
  }
  /* opening contacts name their family */
  seat = seat >= 0 ? seat : circuit == TW_CIRCUIT_CONTACT ? TW_SEAT_TRIPOD : TW_SEAT_PIVOT;
  char text[TW_STARTER_LENGTH];
  if (tw_design_starter_print(seat, circuit, link, text, sizeof text) == 0) {
    return tw_cli_usage(cli, "--circuit contact: opening contacts belong to --seat tripod");
  }
  if (cli->count == 0) {
    fputs(text, cli->out);
    return TW_EXIT_DONE;
  }
  return write_new(cli, cli->operand[0], text);
}

static const tw_option options[] = {
    {"seat", "KIND", "pivot (default), tripod, plate or bonded", false},
    {"circuit", "KIND", "comparator, gain, charge, gate, or for a tripod contact", false},
    {"link", "KIND", "fixed_cable (default), plug, spring_contacts or radio", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_new = {
    .name = "new",
    .operands = "[FILE]",
    .least = 0,
    .most = 1,
    .summary = "write a first design file (without FILE: print it)",
    .details = "pivot: a ball head in a socket, its flat on the disc. tripod: a carrier on three "
               "seats with opening contacts. plate: a carrier plate on a lip under a spring. "
               "bonded: the stem glued to the disc. Each family takes each kind of circuit "
               "(comparator, gain stage, charge amplifier, Schmitt gate); opening contacts belong "
               "to a tripod. Unsaid, the circuit is the family's usual one: a comparator for a "
               "pivot and a plate, contacts for a tripod, a gain stage for a bonded stem. Every "
               "such file meets its own requirements and trips at its own feed.",
    .options = options,
    .takes = TW_GIVES_A_FILE,
    .run = run,
};
