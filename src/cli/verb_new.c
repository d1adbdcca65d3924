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

static tw_exit run(tw_cli *cli)
{
  const char *kind = tw_cli_text(cli, "seat", "pivot");
  const int choice = tw_choice_find(TW_SET_SEAT, kind);
  const char *text = choice >= 0 ? tw_design_template(choice) : NULL;
  if (!text) {
    return tw_cli_usage(cli, "--seat: \"%s\" is none of pivot, tripod, plate, bonded", kind);
  }
  if (cli->count == 0) {
    fputs(text, cli->out);
    return TW_EXIT_DONE;
  }
  return write_new(cli, cli->operand[0], text);
}

static const tw_option options[] = {
    {"seat", "KIND", "pivot (default), tripod, plate or bonded", false},
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
               "bonded: the stem glued to the disc.",
    .options = options,
    .takes = TW_GIVES_A_FILE,
    .run = run,
};
