/* help.c: help and man page, from the verb and option tables. */
#include "verb.h"

#include <string.h>

static const tw_option *const *tables_of(const tw_verb *verb, const tw_option *tables[5])
{
  int n = 0;
  if (verb->options) {
    tables[n++] = verb->options;
  }
  if (verb->takes & TW_TAKES_JSON) {
    tables[n++] = tw_common_json;
  }
  if (verb->takes & TW_TAKES_CSV) {
    tables[n++] = tw_common_csv;
  }
  if (verb->takes & TW_TAKES_DESIGN) {
    tables[n++] = tw_common_design;
  }
  tables[n] = NULL;
  return tables;
}

/* words of `text` in lines that end before `width`, continued under `indent` */
static void wrapped(FILE *out, const char *text, int indent, int width)
{
  int column = indent;
  bool fresh = false; /* at the left edge: the indent is still to come */
  for (; *text; text += *text != '\0') {
    const int word = (int)strcspn(text, " \n"), gap = column > indent;
    if (gap && column + gap + word > width) {
      fputc('\n', out);
      column = indent;
      fresh = true;
    }
    if (word > 0) {
      const int blanks = fresh ? indent : column > indent;
      fprintf(out, "%*s%.*s", blanks, "", word, text);
      column += (column > indent) + word;
      fresh = false;
    }
    text += word;
    if (*text == '\n') {
      fputc('\n', out);
      column = indent;
      fresh = true;
    }
  }
  fprintf(out, "\n");
}

static void option_line(const tw_option *option, FILE *out)
{
  char left[64];
  snprintf(left, sizeof left, "--%s%s%s", option->name, option->argument ? " " : "",
           option->argument ? option->argument : "");
  if (strlen(left) > 26) {
    fprintf(out, "  %s\n%*s", left, 29, "");
  } else {
    fprintf(out, "  %-26s ", left);
  }
  wrapped(out, option->help, 29, 79);
}

static void verb_help(const tw_verb *verb, FILE *out)
{
  fprintf(out, "tripwright %s%s%s%s\n\n  ", verb->name, verb->operands[0] ? " " : "",
          verb->operands, verb->options || verb->takes ? " [options]" : "");
  wrapped(out, verb->summary, 2, 79);
  if (verb->details) {
    fprintf(out, "\n  ");
    wrapped(out, verb->details, 2, 79);
  }
  const tw_option *tables[5];
  fprintf(out, "\n");
  for (const tw_option *const *t = tables_of(verb, tables); *t; t++) {
    for (const tw_option *o = *t; o->name; o++) {
      option_line(o, out);
    }
  }
}

void tw_help(const tw_verb *verb, FILE *out)
{
  if (verb) {
    verb_help(verb, out);
    return;
  }
  fprintf(out, "tripwright VERB FILE [options]: design, foresee and qualify a contact probe\n\n");
  for (const tw_verb *const *v = tw_verbs; *v; v++) {
    char left[64];
    snprintf(left, sizeof left, "%s %s", (*v)->name, (*v)->operands);
    fprintf(out, "  %-22s ", left);
    wrapped(out, (*v)->summary, 25, 79);
  }
  fprintf(out, "\n  tripwright VERB --help     options of one verb\n"
               "  tripwright --version\n"
               "  tripwright --man           the man page (pipe it into man -l -)\n"
               "  tripwright --completion    completion for bash (source it)\n"
               "\nExit: 0 done and every requirement met, 1 done but one is not, 2 command line\n"
               "wrong, 3 input wrong, 4 no numerical answer, 5 file or network, 70 internal,\n"
               "130 interrupted.\n"
               "A probe is never a safety device. Local rules and licensed practice go first.\n");
}

/* text for troff: dots and quotes at the start of a line, and backslashes, are masked */
static void troff(FILE *out, const char *text)
{
  bool start = true;
  for (; *text; text++) {
    if (start && (*text == '.' || *text == '\'')) {
      fprintf(out, "\\&");
    }
    if (*text == '\\') {
      fprintf(out, "\\e");
    } else if (*text == '-') {
      fprintf(out, "\\-");
    } else {
      fputc(*text, out);
    }
    start = *text == '\n';
  }
  fprintf(out, "\n");
}

void tw_man_page(FILE *out)
{
  fprintf(out, ".TH TRIPWRIGHT 1 \"\" \"tripwright %s\" \"User Commands\"\n", TW_VERSION);
  fprintf(out, ".SH NAME\ntripwright \\- design, foresee and qualify a contact probe\n");
  fprintf(out, ".SH SYNOPSIS\n.B tripwright\n.I VERB FILE\n[options]\n.SH VERBS\n");
  for (const tw_verb *const *v = tw_verbs; *v; v++) {
    fprintf(out, ".SS tripwright %s %s\n", (*v)->name, (*v)->operands);
    troff(out, (*v)->summary);
    if ((*v)->details) {
      fprintf(out, ".PP\n");
      troff(out, (*v)->details);
    }
    const tw_option *tables[5];
    for (const tw_option *const *t = tables_of(*v, tables); *t; t++) {
      for (const tw_option *o = *t; o->name; o++) {
        fprintf(out, ".TP\n.B \\-\\-%s", o->name);
        fprintf(out, " %s\n", o->argument ? o->argument : "");
        troff(out, o->help);
      }
    }
  }
  fprintf(out, ".SH EXIT STATUS\n0 done and every requirement met; 1 done but a requirement is "
               "not met; 2 usage; 3 input wrong; 4 no numerical answer; 5 file or network; "
               "70 internal; 130 interrupted.\n");
}
