/* plot.c: a record on a terminal: the course as a band of *, the model as dots, marks below. */
#include "signal.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define WIDTH_LEAST  20
#define WIDTH_MOST   400
#define HEIGHT_LEAST 4
#define HEIGHT_MOST  100
#define ZOOM         3  /* times longer than the model's part: only that part is drawn */
#define MARGIN       11 /* characters of the scale at the left */

struct canvas {
  int width, height;
  char *cell; /* [height][width] */
  double t0, t1, low, high;
};

static int column_of(const struct canvas *c, double t)
{
  const double share = fmin(fmax((t - c->t0) / (c->t1 - c->t0), -1), 2);
  return (int)floor(share * (c->width - 1) + 0.5);
}

static int row_of(const struct canvas *c, double v)
{
  const double share = fmin(fmax((c->high - v) / (c->high - c->low), -1), 2);
  return (int)floor(share * (c->height - 1) + 0.5);
}

static void put(struct canvas *c, int column, int row, char sign)
{
  if (column >= 0 && column < c->width && row >= 0 && row < c->height) {
    c->cell[row * c->width + column] = sign;
  }
}

/* each column from its least to its most sample */
static void draw_record(struct canvas *c, const tw_capture_record *r, const double *v)
{
  int column = -1;
  double least = 0, most = 0;
  for (size_t i = 0; i <= r->samples; i++) {
    const double t = i < r->samples ? tw_capture_at(r, i) : c->t1 + 1;
    const int now = t < c->t0 ? -1 : t > c->t1 ? -2 : column_of(c, t);
    if (now != column && column >= 0) {
      for (int row = row_of(c, most); row <= row_of(c, least); row++) {
        put(c, column, row, '*');
      }
    }
    if (now != column && i < r->samples) {
      least = most = v[i];
    } else if (i < r->samples) {
      least = fmin(least, v[i]);
      most = fmax(most, v[i]);
    }
    column = now;
  }
}

static void draw_model(struct canvas *c, const tw_capture_result *res)
{
  for (size_t k = 0; k < res->curve; k++) {
    const int column = column_of(c, res->curve_t[k]), row = row_of(c, res->curve_v[k]);
    if (isfinite(res->curve_v[k]) && column >= 0 && column < c->width && row >= 0 &&
        row < c->height && c->cell[row * c->width + column] == ' ') {
      put(c, column, row, '.');
    }
  }
}

static bool frame(struct canvas *c, const tw_capture_record *r, const double *v)
{
  c->t0 = c->t1 = tw_capture_at(r, 0);
  c->low = c->high = v[0];
  for (size_t i = 1; i < r->samples; i++) {
    c->t0 = fmin(c->t0, tw_capture_at(r, i));
    c->t1 = fmax(c->t1, tw_capture_at(r, i));
    c->low = fmin(c->low, v[i]);
    c->high = fmax(c->high, v[i]);
  }
  return c->t1 > c->t0 && c->high > c->low && isfinite(c->t1 - c->t0) && isfinite(c->high - c->low);
}

/* a short event in a long record: the drawing keeps to the model's part and a little around it */
static void zoom(struct canvas *c, const tw_capture_result *res)
{
  if (!res || res->curve < 2) {
    return;
  }
  const double from = res->curve_t[0], to = res->curve_t[res->curve - 1];
  if (to > from && to - from < (c->t1 - c->t0) / ZOOM) {
    c->t0 = fmax(c->t0, from - (to - from) / 8);
    c->t1 = fmin(c->t1, to + (to - from) / 8);
  }
}

static const char *axis_unit(const tw_capture_record *r)
{
  static const char *const unit[] = {"s", "s", "Hz", "rad", "N"};
  return unit[r->axis];
}

/* ^ under each mark, as far as they do not fall together; the words come in the order of the marks
 */
static size_t marks_line(const struct canvas *c, const tw_capture_result *res, char *out,
                         size_t size)
{
  char line[WIDTH_MOST + 1];
  memset(line, ' ', sizeof line);
  int last = -1;
  for (size_t k = 0; res && k < res->marks; k++) {
    const int column = column_of(c, res->mark[k].t);
    if (column >= 0 && column < c->width) {
      line[column] = '^';
      last = column > last ? column : last;
    }
  }
  line[last + 1] = '\0';
  const int n = last >= 0 ? snprintf(out, size, "%*s%s", MARGIN, "", line) : 0;
  size_t used = n > 0 ? (size_t)n : 0;
  const char *before = "";
  for (size_t k = 0; last >= 0 && k < res->marks && used < size; k++) {
    if (strcmp(res->mark[k].text, before) != 0 && res->mark[k].text[0]) {
      const int more =
          snprintf(out + used, size - used, "%s%s", before[0] ? ", " : " ", res->mark[k].text);
      used += more > 0 ? (size_t)more : 0;
      before = res->mark[k].text;
    }
  }
  if (last >= 0 && used < size) {
    used += (size_t)snprintf(out + used, size - used, "\n");
  }
  return used < size ? used : size - 1;
}

static char *text_of(const struct canvas *c, const tw_capture_record *r,
                     const tw_capture_result *res, size_t channel)
{
  const size_t size = (size_t)(c->height + 4) * (size_t)(c->width + MARGIN + 2) + 2048;
  char *out = tw_alloc(1, size);
  size_t used = 0;
  for (int row = 0; out && row < c->height; row++) {
    char scale[MARGIN + 1] = "";
    if (row == 0 || row == c->height - 1) {
      snprintf(scale, sizeof scale, "%8.3g %s", row == 0 ? c->high : c->low,
               strcmp(r->channel[channel].unit, "1") == 0 ? "" : r->channel[channel].unit);
    }
    int wide = c->width;
    while (wide > 0 && c->cell[row * c->width + wide - 1] == ' ') {
      wide--;
    }
    used += (size_t)snprintf(out + used, size - used, "%-*s%.*s", MARGIN, scale, wide,
                             c->cell + row * c->width);
    while (used > 0 && out[used - 1] == ' ') {
      used--;
    }
    out[used++] = '\n';
    out[used] = '\0';
  }
  if (out) {
    used += marks_line(c, res, out + used, size - used);
    char end[48];
    const int n = snprintf(end, sizeof end, "%.4g %s", c->t1, axis_unit(r));
    snprintf(out + used, size - used, "%*s%-*.4g%s\n", MARGIN, "", c->width - n, c->t0, end);
  }
  return out;
}

char *tw_capture_plot(const tw_capture_record *record, const tw_capture_result *result, int width,
                      int height)
{
  struct canvas c = {.width = width < WIDTH_LEAST ? WIDTH_LEAST : width,
                     .height = height < HEIGHT_LEAST ? HEIGHT_LEAST : height};
  c.width = c.width > WIDTH_MOST ? WIDTH_MOST : c.width;
  c.height = c.height > HEIGHT_MOST ? HEIGHT_MOST : c.height;
  const size_t channel = result ? result->channel : 0;
  const double *v = record->channel[channel].value;
  if (record->samples == 0 || !frame(&c, record, v)) {
    return tw_copy_text("");
  }
  zoom(&c, result);
  c.cell = tw_alloc((size_t)c.width * (size_t)c.height, 1);
  if (!c.cell) {
    return NULL;
  }
  memset(c.cell, ' ', (size_t)c.width * (size_t)c.height);
  draw_record(&c, record, v);
  if (result) {
    draw_model(&c, result);
  }
  char *out = text_of(&c, record, result, channel);
  tw_free(c.cell);
  return out;
}
