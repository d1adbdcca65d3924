/* program_write.c: moves as a program in the controller's words, and in plain language. */
#include "inner.h"
#include "program_inner.h"
#include "tripwright/text.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define MM      1e3
#define MM_MIN  6e4
#define DEGREES (180.0 / TW_PI)

struct writer {
  tw_text text;
  const tw_words *words;
  const tw_program *program;
};

/* a comment; brackets of its own would end it early */
static void remark(struct writer *w, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void remark(struct writer *w, const char *format, ...)
{
  char line[200];
  va_list list;
  va_start(list, format);
  vsnprintf(line, sizeof line, format, list);
  va_end(list);
  for (char *c = line; *c; c++) {
    const bool bracket = strchr(w->words->comment_open, *c) || strchr(w->words->comment_close, *c);
    *c = bracket || (unsigned char)*c < 0x20 ? ' ' : *c;
  }
  tw_text_add(&w->text, "%s%s%s\n", w->words->comment_open, line, w->words->comment_close);
}

/* one word on a line of its own, if there is one */
static void word_line(struct writer *w, const char *word)
{
  if (word[0]) {
    tw_text_add(&w->text, "%s\n", word);
  }
}

static double shown(double value, double places)
{
  const double rounded = round(value * places) / places;
  return rounded == 0.0 ? 0.0 : rounded; /* no -0.0000 */
}

static void axis(struct writer *w, char letter, double metres)
{
  if (w->words->inches) {
    tw_text_add(&w->text, " %c%.5f", letter, shown(metres / 0.0254, 1e5));
  } else {
    tw_text_add(&w->text, " %c%.4f", letter, shown(metres * MM, 1e4));
  }
}

static void straight(struct writer *w, const char *word, const tw_move *m)
{
  tw_text_add(&w->text, "%s", word);
  if (m->kind != TW_MOVE_HEIGHT) {
    axis(w, 'X', m->to[0]);
    axis(w, 'Y', m->to[1]);
  }
  axis(w, 'Z', m->to[2]);
  if (w->words->inches) {
    tw_text_add(&w->text, " F%.4f\n", m->feed * 60.0 / 0.0254);
  } else {
    tw_text_add(&w->text, " F%.2f\n", m->feed * MM_MIN);
  }
}

/* the words with {n}, {p}.. put in and '|' as line ends */
static void fill_in(struct writer *w, const char *word, const tw_move *m)
{
  const unsigned first = w->words->first_parameter + 3 * (m->number ? m->number - 1 : 0);
  for (const char *c = word; *c; c++) {
    const char *close = *c == '{' ? strchr(c, '}') : NULL;
    if (!close) {
      tw_text_add(&w->text, "%c", *c == '|' ? '\n' : *c);
      continue;
    }
    switch (c[1]) {
    case 'n':
      tw_text_add(&w->text, "%u", m->number);
      break;
    case 'a':
      tw_text_add(&w->text, "%g", m->value * DEGREES);
      break;
    case 's':
      tw_text_add(&w->text, "%g", m->value);
      break;
    default:
      tw_text_add(&w->text, "%u", first + (unsigned)(c[1] - 'p'));
      break;
    }
    c = close;
  }
  tw_text_add(&w->text, "\n");
}

static void turn(struct writer *w, const tw_move *m)
{
  if (w->words->orient[0]) {
    remark(w, "the spindle turns by itself to %g degrees: hands off", m->value * DEGREES);
    fill_in(w, w->words->orient, m);
    return;
  }
  remark(w, "stop: turn the spindle by hand to %g degrees and lock it there", m->value * DEGREES);
  remark(w, "then hands off and stand clear before you go on; never hold it by hand");
  word_line(w, w->words->pause);
}

static void write_move(struct writer *w, const tw_move *m)
{
  switch (m->kind) {
  case TW_MOVE_GUARDED:
    straight(w, w->words->guarded, m);
    break;
  case TW_MOVE_TOUCH:
    remark(w, "touch %u", m->number);
    straight(w, w->words->probe, m);
    break;
  case TW_MOVE_COUNTED:
    straight(w, w->words->probe, m);
    break;
  case TW_MOVE_RECORD:
    fill_in(w, w->words->record, m);
    break;
  case TW_MOVE_TURN:
    turn(w, m);
    break;
  case TW_MOVE_WAIT:
    fill_in(w, w->words->dwell, m);
    break;
  case TW_MOVE_CHECK:
    fill_in(w, w->words->check, m);
    break;
  case TW_MOVE_HEIGHT:
  case TW_MOVE_POSITION:
  case TW_MOVE_DOWN:
  case TW_MOVE_BACK:
    straight(w, w->words->straight, m);
    break;
  }
}

static bool has_kind(const tw_program *g, tw_move_kind kind)
{
  for (size_t i = 0; i < g->count; i++) {
    if (g->move[i].kind == kind) {
      return true;
    }
  }
  return false;
}

/* lowest position of the centre of the ball */
static double lowest_of(const tw_program *g)
{
  double lowest = g->plan.clearance;
  for (size_t i = 0; i < g->count; i++) {
    lowest = g->move[i].feed > 0.0 && g->move[i].kind <= TW_MOVE_BACK
                 ? fmin(lowest, g->move[i].to[2])
                 : lowest;
  }
  return lowest;
}

/* words that only the user answers for */
static void own_words(struct writer *w)
{
  char unknown[160];
  tw_words_unknown(w->words, unknown, sizeof unknown);
  if (unknown[0]) {
    remark(w, "the standards do not define these words; you answer for them:");
    remark(w, "%s", unknown);
  }
}

/* what the operator looks at while the program stands, before anything moves */
static void look_first(struct writer *w)
{
  const tw_words *words = w->words;
  const bool off = tw_words_say(words->setup, 'G', 49);
  remark(w, "STOP before the first move: look at");
  remark(w, "1 feed override at 100 percent; lower for the trial run, never higher");
  if (words->work_offset[0]) {
    remark(w, "2 work offset %s is the one that was set for this probe", words->work_offset);
  } else {
    remark(w, "2 no word selects the work offset: the active one was set for this probe");
  }
  remark(w, "3 tool length compensation is now %s; the work offset was set with it so",
         off                                   ? "off: G49"
         : tw_words_say(words->setup, 'G', 43) ? "on: G43, with the length of this probe"
                                               : "as the controller has it");
  remark(w, "  the display of Z shows the height of the ball's centre above the work's zero");
  remark(w, "  if it is off by the length of the probe, end here: the machine would drive down");
  remark(w, "4 %s",
         tw_words_say(words->setup, 'G', 61) || tw_words_say(words->setup, 'G', 61.1) ||
                 tw_words_say(words->setup, 'G', 60)
             ? "exact path: no corner is rounded"
             : "no word asks for the exact path: see that no corner is rounded");
  remark(w, "5 spindle locked, hands off, nobody near");
  word_line(w, words->pause);
}

static void cautions(struct writer *w)
{
  const tw_program *g = w->program;
  const tw_plan *p = &g->plan;
  remark(w, "DRAFT: read all of it before it runs, then run it high above the work first");
  remark(w, "the local rules and those of the machine go before anything here");
  remark(w, "wear eye protection; a probe is never a safety device");
  remark(w, "spindle stopped; coolant and air off; hand on the feed hold");
  remark(w, "positions are those of the centre of the ball tip, %.3f mm: set the work offset so",
         p->tip_diameter * MM);
  own_words(w);
  remark(w, "nothing is in the way at and above Z %.3f mm: make sure of it", p->clearance * MM);
  if (!isfinite(p->floor) && lowest_of(g) < p->clearance) {
    remark(w, "what lies under Z %.3f mm is not known to this program: make sure it is free",
           (lowest_of(g) - 0.5 * p->tip_diameter) * MM);
  }
  remark(w, "surface known to %.3f mm; overtravel %.3f mm; stops from %g mm/min within %.3f mm",
         p->placement * MM, p->overtravel * MM, p->feed_first * MM_MIN,
         tw_stopping_distance(p, p->feed_first) * MM);
  if (has_kind(g, TW_MOVE_DOWN)) {
    remark(w, "moves straight down to the starts are NOT guarded: their way must be free");
  }
  if (has_kind(g, TW_MOVE_GUARDED)) {
    remark(w, "should a guarded move stop early, stop the program: it would go on from there");
  }
  if (p->pulse) {
    remark(w, "the output is a pulse: it does not show a tip that is still touching");
    remark(w, "clearance before each touch is by position alone");
    if (p->pulse_length > 0.0) {
      remark(w, "it lasts %.3g ms at least: the controller's input must catch that",
             1e3 * p->pulse_length);
    }
  } else if (!w->words->check[0]) {
    remark(w, "no word checks the output before a touch: see that the lamp is out");
  }
}

tw_status tw_program_text(const tw_program *program, const tw_words *words, const char *title,
                          char **text, tw_fault *fault)
{
  struct writer w = {.words = words, .program = program};
  word_line(&w, words->begin);
  remark(&w, "%s", title);
  remark(&w, "test: %s, %u touches, words: %s, about %.0f min",
         tw_program_test_name(program->plan.test), program->touches, words->name,
         ceil(program->seconds / 60.0));
  cautions(&w);
  word_line(&w, words->units);
  word_line(&w, words->setup);
  word_line(&w, words->work_offset);
  word_line(&w, words->spindle_stop);
  look_first(&w);
  for (size_t i = 0; i < program->count; i++) {
    write_move(&w, &program->move[i]);
  }
  word_line(&w, words->end);
  *text = tw_text_take(&w.text);
  return *text ? TW_OK : tw_no_memory(fault);
}

/* ---- plain language
 * -------------------------------------------------------------------------------- */

static void say(tw_text *t, const tw_move *m)
{
  const double x = shown(m->to[0] * MM, 1e4), y = shown(m->to[1] * MM, 1e4),
               z = shown(m->to[2] * MM, 1e4);
  const double feed = m->feed * MM_MIN;
  switch (m->kind) {
  case TW_MOVE_HEIGHT:
    tw_text_add(t, "go to the clearance height Z %.4f at %g mm/min\n", z, feed);
    return;
  case TW_MOVE_POSITION:
    tw_text_add(t, "at clearance height: go to X %.4f Y %.4f Z %.4f at %g mm/min\n", x, y, z, feed);
    return;
  case TW_MOVE_GUARDED:
    tw_text_add(t, "guarded: go to X %.4f Y %.4f Z %.4f at %g mm/min, stop on contact\n", x, y, z,
                feed);
    return;
  case TW_MOVE_DOWN:
    tw_text_add(t, "down a way that must be free: to Z %.4f at %g mm/min\n", z, feed);
    return;
  case TW_MOVE_TOUCH:
    tw_text_add(t, "touch %u, first: towards X %.4f Y %.4f Z %.4f at %g mm/min until the trip\n",
                m->number, x, y, z, feed);
    return;
  case TW_MOVE_COUNTED:
    tw_text_add(t, "touch %u, counted: towards X %.4f Y %.4f Z %.4f at %g mm/min until the trip\n",
                m->number, x, y, z, feed);
    return;
  case TW_MOVE_BACK:
    tw_text_add(t, "back the same way to X %.4f Y %.4f Z %.4f at %g mm/min\n", x, y, z, feed);
    return;
  case TW_MOVE_RECORD:
    tw_text_add(t, "record touch %u\n", m->number);
    return;
  case TW_MOVE_TURN:
    tw_text_add(t, "spindle to %g degrees\n", m->value * DEGREES);
    return;
  case TW_MOVE_WAIT:
    tw_text_add(t, "wait %g s\n", m->value);
    return;
  case TW_MOVE_CHECK:
    tw_text_add(t, "end here if the probe shows a trip\n");
    return;
  }
}

tw_status tw_program_listing(const tw_program *program, char **text, tw_fault *fault)
{
  tw_text t = {0};
  for (size_t i = 0; i < program->count; i++) {
    tw_text_add(&t, "%4zu  ", i + 1);
    say(&t, &program->move[i]);
  }
  *text = tw_text_take(&t);
  return *text ? TW_OK : tw_no_memory(fault);
}
