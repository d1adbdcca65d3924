/* svg.c: a record as SVG: the course, the model through it, what was recognised marked. */
#include "signal.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define WIDTH  900.0
#define HEIGHT 420.0
#define LEFT   70.0
#define RIGHT  20.0
#define TOP    40.0
#define BOTTOM 50.0
#define TICKS  5

struct text {
  char *at;
  size_t used, room;
  bool lost;
};

static void say(struct text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void say(struct text *t, const char *format, ...)
{
  char piece[512];
  va_list list;
  va_start(list, format);
  const int n = vsnprintf(piece, sizeof piece, format, list);
  va_end(list);
  const size_t more = n < 0 ? 0 : (size_t)n < sizeof piece ? (size_t)n : sizeof piece - 1;
  if (!t->lost && t->used + more + 1 > t->room) {
    const size_t room = 2 * (t->room + more + 1);
    char *at = tw_resize(t->at, room, 1);
    t->lost = !at;
    t->at = at ? at : t->at;
    t->room = at ? room : t->room;
  }
  if (!t->lost) {
    memcpy(t->at + t->used, piece, more);
    t->used += more;
    t->at[t->used] = '\0';
  }
}

/* text that may hold signs of the markup */
static void say_plain(struct text *t, const char *text)
{
  for (; *text; text++) {
    const char *as = *text == '<' ? "&lt;" : *text == '>' ? "&gt;" : *text == '&' ? "&amp;" : NULL;
    if (as) {
      say(t, "%s", as);
    } else {
      say(t, "%c", *text);
    }
  }
}

struct frame {
  double t0, t1, low, high;
};

static double x_of(const struct frame *f, double t)
{
  return LEFT + (WIDTH - LEFT - RIGHT) * (t - f->t0) / (f->t1 - f->t0);
}

static double y_of(const struct frame *f, double v)
{
  const double y = TOP + (HEIGHT - TOP - BOTTOM) * (f->high - v) / (f->high - f->low);
  return fmin(fmax(y, 0), HEIGHT);
}

static void course(struct text *t, const struct frame *f, const tw_capture_record *r,
                   const double *v)
{
  int column = -1;
  double least = 0, most = 0, first = 0;
  say(t, "<path class=\"record\" d=\"");
  for (size_t i = 0; i <= r->samples; i++) {
    const int now = i < r->samples ? (int)x_of(f, tw_capture_at(r, i)) : -2;
    if (now != column && column >= 0) {
      say(t, "%s%d %.1f", t->used && first > 0 ? "L" : "M", column, y_of(f, most));
      if (most > least) {
        say(t, "L%d %.1f", column, y_of(f, least));
      }
      first = 1;
    }
    if (i < r->samples) {
      least = now != column ? v[i] : fmin(least, v[i]);
      most = now != column ? v[i] : fmax(most, v[i]);
    }
    column = now;
  }
  say(t, "\"/>\n");
}

static void model(struct text *t, const struct frame *f, const tw_capture_result *res)
{
  bool drawn = false;
  say(t, "<path class=\"model\" d=\"");
  for (size_t k = 0; k < res->curve; k++) {
    const double x = x_of(f, res->curve_t[k]);
    if (isfinite(res->curve_v[k]) && x >= LEFT && x <= WIDTH - RIGHT) {
      say(t, "%s%.1f %.1f", drawn ? "L" : "M", x, y_of(f, res->curve_v[k]));
      drawn = true;
    }
  }
  say(t, "\"/>\n");
}

static void marks(struct text *t, const struct frame *f, const tw_capture_result *res)
{
  for (size_t k = 0; k < res->marks; k++) {
    const tw_capture_mark *m = &res->mark[k];
    const double x = x_of(f, m->t);
    if (x < LEFT - 1 || x > WIDTH - RIGHT + 1) {
      continue;
    }
    if (isfinite(m->y)) {
      say(t, "<circle class=\"mark\" cx=\"%.1f\" cy=\"%.1f\" r=\"4\"/>\n", x, y_of(f, m->y));
    } else {
      say(t, "<path class=\"mark\" d=\"M%.1f %.1fV%.1f\"/>\n", x, TOP, HEIGHT - BOTTOM);
    }
    const bool right = x > WIDTH - RIGHT - 90;
    say(t, "<text x=\"%.1f\" y=\"%.1f\"%s>", right ? x - 6 : x + 6,
        isfinite(m->y) ? y_of(f, m->y) - 6 : TOP + 12, right ? " text-anchor=\"end\"" : "");
    say_plain(t, m->text);
    say(t, "</text>\n");
  }
}

static void scales(struct text *t, const struct frame *f, const tw_capture_record *r,
                   size_t channel)
{
  static const char *const unit[] = {"s", "s", "Hz", "rad", "N"};
  for (int k = 0; k <= TICKS; k++) {
    const double time = f->t0 + (f->t1 - f->t0) * k / TICKS;
    const double v = f->low + (f->high - f->low) * k / TICKS;
    say(t, "<path class=\"grid\" d=\"M%.1f %.1fV%.1fM%.1f %.1fH%.1f\"/>\n", x_of(f, time), TOP,
        HEIGHT - BOTTOM, LEFT, y_of(f, v), WIDTH - RIGHT);
    say(t, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"middle\">%.4g %s</text>\n", x_of(f, time),
        HEIGHT - BOTTOM + 18, time, unit[r->axis]);
    say(t, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"end\">%.3g</text>\n", LEFT - 6,
        y_of(f, v) + 4, v);
  }
  say(t, "<text x=\"%.1f\" y=\"%.1f\">", LEFT, TOP - 14);
  say_plain(t, r->channel[channel].name);
  say(t, ", %s</text>\n",
      strcmp(r->channel[channel].unit, "1") == 0 ? "full scales" : r->channel[channel].unit);
}

static bool frame_of(const tw_capture_record *r, const double *v, struct frame *f)
{
  *f = (struct frame){tw_capture_at(r, 0), tw_capture_at(r, 0), v[0], v[0]};
  for (size_t i = 1; i < r->samples; i++) {
    f->t0 = fmin(f->t0, tw_capture_at(r, i));
    f->t1 = fmax(f->t1, tw_capture_at(r, i));
    f->low = fmin(f->low, v[i]);
    f->high = fmax(f->high, v[i]);
  }
  return f->t1 > f->t0 && f->high > f->low && isfinite(f->t1 - f->t0) && isfinite(f->high - f->low);
}

char *tw_capture_svg(const tw_capture_record *record, const tw_capture_result *result)
{
  struct text t = {0};
  struct frame f;
  const size_t channel = result ? result->channel : 0;
  const double *v = record->channel[channel].value;
  say(&t,
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %g %g\" font-family=\"sans-serif\" "
      "font-size=\"12\">\n<style>path{fill:none}.record{stroke:#356}.model{stroke:#c40;"
      "stroke-width:1.5}.grid{stroke:#ddd}.mark{stroke:#080;stroke-dasharray:4 3;fill:none}</style>"
      "\n<rect width=\"%g\" height=\"%g\" fill=\"#fff\"/>\n",
      WIDTH, HEIGHT, WIDTH, HEIGHT);
  if (record->samples > 0 && frame_of(record, v, &f)) {
    scales(&t, &f, record, channel);
    course(&t, &f, record, v);
    if (result) {
      model(&t, &f, result);
      marks(&t, &f, result);
      say(&t,
          "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"end\">%s: record, and the model through "
          "it in red</text>\n",
          WIDTH - RIGHT, TOP - 14, tw_capture_act_word(result->act));
    }
  }
  say(&t, "</svg>\n");
  if (t.lost) {
    tw_free(t.at);
    return NULL;
  }
  return t.at;
}
