/* section_shade.c: charge or stress per newton as tones on the disc of the section.
 *
 * Seven tones from the strongest negative over zero to the strongest positive, even steps; beside
 * the tone a sign says which is which: the largest of each sign carries a triangle, and the legend
 * names every step's place on the scale in figures. Colours: web/src/drawing.css.
 */
#include "section_shade.h"

#include "tripwright/disc.h"

#include <math.h>
#include <stdio.h>

/* ---- values ---------------------------------------------------------------------------------- */

static void see(tw_shading *s, double value, double r, double z)
{
  if (value > s->most) {
    s->most = value;
    s->most_r = r;
    s->most_z = z;
  }
  if (value < s->least) {
    s->least = value;
    s->least_r = r;
    s->least_z = z;
  }
}

static void set_layers(const tw_layout *p, tw_shading *s)
{
  s->hole = p->hole_radius;
  s->edge = p->metal_radius;
  s->layer[0].low = p->ceramic_face_low;
  s->layer[0].high = p->ceramic_face_low + p->ceramic;
  s->layer[0].radius = p->ceramic_radius;
  s->layer[1].low = p->metal_low;
  s->layer[1].high = p->metal_low + p->metal;
  s->layer[1].radius = p->metal_radius;
  s->layers = 2;
}

static double radius_of(const tw_shading *s, const tw_shaded_layer *l, int i)
{
  return s->hole + (l->radius - s->hole) * (i + 0.5) / TW_SHADE_CELLS;
}

static double larger(tw_disc_planar p)
{
  return fabs(p.radial) > fabs(p.hoop) ? p.radial : p.hoop;
}

/* straight from face to face; the ceramic that faces down has its outer face below */
static tw_status fill_stress(const tw_disc *disc, double contact, bool ceramic_low, tw_shading *s,
                             tw_fault *fault)
{
  static const tw_disc_layer name[2] = {TW_DISC_LAYER_CERAMIC, TW_DISC_LAYER_METAL};
  for (int k = 0; k < 2; k++) {
    tw_shaded_layer *l = &s->layer[k];
    double at[TW_SHADE_CELLS];
    tw_disc_planar inner[TW_SHADE_CELLS], outer[TW_SHADE_CELLS];
    for (int i = 0; i < TW_SHADE_CELLS; i++) {
      at[i] = radius_of(s, l, i);
    }
    const tw_status status =
        tw_disc_stress_along(disc, contact, name[k], TW_SHADE_CELLS, at, inner, outer, fault);
    if (status != TW_OK) {
      return status;
    }
    for (int d = 0; d < TW_SHADE_DEPTHS; d++) {
      const double up = (d + 0.5) / TW_SHADE_DEPTHS, out = ceramic_low ? 1 - up : up;
      for (int i = 0; i < TW_SHADE_CELLS; i++) {
        const tw_disc_planar p = {inner[i].radial + out * (outer[i].radial - inner[i].radial),
                                  inner[i].hoop + out * (outer[i].hoop - inner[i].hoop)};
        l->value[d][i] = larger(p);
        see(s, l->value[d][i], at[i], l->low + up * (l->high - l->low));
      }
    }
  }
  return TW_OK;
}

/* what the ceramic gives for a push there, with the calibrated sign: nothing on bare metal */
static tw_status fill_charge(const tw_disc *disc, tw_shading *s, tw_fault *fault)
{
  tw_shaded_layer *l = &s->layer[0];
  double at[TW_SHADE_CELLS], zero[TW_SHADE_CELLS] = {0}, charge[TW_SHADE_CELLS];
  for (int i = 0; i < TW_SHADE_CELLS; i++) {
    at[i] = radius_of(s, l, i);
  }
  const tw_status status = tw_disc_charge(disc, TW_SHADE_CELLS, at, zero, charge, fault);
  s->layers = 1;
  for (int i = 0; i < TW_SHADE_CELLS && status == TW_OK; i++) {
    for (int d = 0; d < TW_SHADE_DEPTHS; d++) {
      l->value[d][i] = charge[i];
    }
    see(s, charge[i], at[i], 0.5 * (l->low + l->high));
  }
  return status;
}

tw_status tw_section_shading(const tw_layout *plan, tw_shade kind, tw_shading *out, tw_fault *fault)
{
  *out = (tw_shading){.kind = kind};
  if (kind == TW_SHADE_NONE || !plan->has_disc) {
    return TW_OK;
  }
  tw_disc_spec spec;
  tw_disc *disc = NULL;
  tw_disc_measures measures;
  tw_fault why = {0};
  tw_status status = tw_disc_spec_from_design(plan->design, &spec, &why);
  status = status == TW_OK ? tw_disc_new(&spec, &disc, &why) : status;
  status = status == TW_OK ? tw_disc_measure(disc, TW_DISC_OPEN, &measures, &why) : status;
  if (status == TW_OK) {
    set_layers(plan, out);
    status = kind == TW_SHADE_CHARGE
                 ? fill_charge(disc, out, &why)
                 : fill_stress(disc, measures.contact_radius, plan->ceramic_low, out, &why);
  }
  tw_disc_free(disc);
  out->known = status == TW_OK;
  snprintf(out->why, sizeof out->why, "%.150s", why.text);
  if (status == TW_NO_MEMORY && fault) {
    *fault = why;
  }
  return status == TW_NO_MEMORY ? status : TW_OK;
}

/* ---- on the sheet ---------------------------------------------------------------------------- */

static double span(const tw_shading *s)
{
  return fmax(fabs(s->least), fabs(s->most));
}

int tw_section_shade_step(const tw_shading *shading, double value)
{
  const double most = span(shading);
  return most > 0 ? (int)lround(value / most * (TW_SHADE_STEPS + 0.499)) : 0;
}

static void put_cell(tw_sheet *sheet, int step, double x, double y, double width, double height)
{
  tw_text_add(&sheet->svg,
              "<rect class=\"tone-%d\" x=\"%.3f\" y=\"%.3f\" width=\"%.3f\" height=\"%.3f\"/>\n",
              step + TW_SHADE_STEPS, x, y, width, height);
}

/* neighbours of one tone along the radius are one mark */
static void put_row(tw_sheet *sheet, const tw_shading *s, const tw_shaded_layer *l, int depth,
                    double x0, double across, double y, double height)
{
  const double width = (l->radius - s->hole) / TW_SHADE_CELLS;
  for (int i = 0; i < TW_SHADE_CELLS;) {
    const int step = tw_section_shade_step(s, l->value[depth][i]);
    int end = i + 1;
    while (end < TW_SHADE_CELLS && tw_section_shade_step(s, l->value[depth][end]) == step) {
      end++;
    }
    const double from = s->hole + width * i, to = s->hole + width * end;
    put_cell(sheet, step, x0 + fmin(across * from, across * to), y, fabs(across) * (to - from),
             height);
    i = end;
  }
}

void tw_section_shade_cells(tw_sheet *sheet, const tw_shading *shading, double x0, double y0,
                            double across, double tall, bool both)
{
  if (!shading->known) {
    return;
  }
  tw_text_put(&sheet->svg, "<g class=\"tones\">\n");
  for (int k = 0; k < shading->layers; k++) {
    const tw_shaded_layer *l = &shading->layer[k];
    const double height = (l->high - l->low) / TW_SHADE_DEPTHS;
    for (int d = 0; d < TW_SHADE_DEPTHS; d++) {
      /* a hair over the next one, so that no line shows between them */
      const double y = y0 - tall * (l->low + height * (d + 1)), h = tall * height + 0.05;
      put_row(sheet, shading, l, d, x0, across, y, h);
      if (both) {
        put_row(sheet, shading, l, d, x0, -across, y, h);
      }
    }
  }
  tw_text_put(&sheet->svg, "</g>\n");
}

static void put_mark(tw_sheet *sheet, bool up, double x, double y)
{
  const double h = up ? -1.5 : 1.5;
  tw_text_add(&sheet->svg, "<path class=\"tone-mark\" d=\"M%.3f %.3fL%.3f %.3fL%.3f %.3fZ\"/>\n", x,
              y + 0.6 * h, x - 1.1, y - 0.6 * h, x + 1.1, y - 0.6 * h);
}

void tw_section_shade_marks(tw_sheet *sheet, const tw_shading *shading, double x0, double y0,
                            double across, double tall)
{
  if (shading->known && shading->most > 0) {
    put_mark(sheet, true, x0 + across * shading->most_r, y0 - tall * shading->most_z);
  }
  if (shading->known && shading->least < 0) {
    put_mark(sheet, false, x0 + across * shading->least_r, y0 - tall * shading->least_z);
  }
}

/* ---- legend ---------------------------------------------------------------------------------- */

static void figure(char out[16], double value)
{
  snprintf(out, 16, "%s%.3g", value > 0 ? "+" : value < 0 ? "\u2212" : "", fabs(value));
}

/* charge in nC/N, stress in kPa/N or MPa/N */
static double unit_of(const tw_shading *s, const char **name)
{
  if (s->kind == TW_SHADE_CHARGE) {
    *name = "nC/N";
    return 1e9;
  }
  const bool large = span(s) >= 1e6;
  *name = large ? "MPa/N" : "kPa/N";
  return large ? 1e-6 : 1e-3;
}

/* "▲ +3.1 at 4.2 mm" */
static void extreme(tw_sheet *sheet, const char *sign, double value, double radius, double x,
                    double y, const char *anchor)
{
  char number[16], line[TW_SHEET_TEXT];
  figure(number, value);
  snprintf(line, sizeof line, "%s %s at %s", sign, number,
           tw_sheet_length(sheet, round(radius * 1e4) / 1e4).text);
  tw_svg_text(&sheet->svg, "key", x, y, anchor, line);
}

double tw_section_shade_legend(tw_sheet *sheet, const tw_shading *shading, double x, double y)
{
  if (!shading->known) {
    tw_svg_text(&sheet->svg, "key", x, y + 4.0, "middle", "no shading: see the view of the disc");
    return TW_SHADE_LEGEND_HEIGHT;
  }
  const char *unit = "";
  const double factor = unit_of(shading, &unit), most = span(shading), width = 8.0, all = 7 * width;
  char line[TW_SHEET_TEXT], low[16], high[16];
  snprintf(line, sizeof line,
           shading->kind == TW_SHADE_CHARGE ? "charge of a push there, %s"
                                            : "stress for a push, %s, + tension",
           unit);
  tw_svg_text(&sheet->svg, "key", x, y + 3.4, "middle", line);
  tw_text_put(&sheet->svg, "<g class=\"tones\">\n");
  for (int i = -TW_SHADE_STEPS; i <= TW_SHADE_STEPS; i++) {
    put_cell(sheet, i, x + width * (i - 0.5), y + 5.0, width, 3.2);
  }
  tw_text_put(&sheet->svg, "</g>\n");
  tw_text_add(&sheet->svg,
              "<rect class=\"tone-frame\" x=\"%.3f\" y=\"%.3f\" width=\"%.3f\" height=\"3.2\"/>\n",
              x - 0.5 * all, y + 5.0, all);
  figure(low, -factor * most);
  figure(high, factor * most);
  tw_svg_text(&sheet->svg, "key", x - 0.5 * all, y + 12.0, "start", low);
  tw_svg_text(&sheet->svg, "key", x, y + 12.0, "middle", "0");
  tw_svg_text(&sheet->svg, "key", x + 0.5 * all, y + 12.0, "end", high);
  if (shading->least < 0) {
    extreme(sheet, "\u25bc", factor * shading->least, shading->least_r, x, y + 16.8, "middle");
  }
  if (shading->most > 0) {
    extreme(sheet, "\u25b2", factor * shading->most, shading->most_r, x,
            y + (shading->least < 0 ? 21.2 : 16.8), "middle");
  }
  return TW_SHADE_LEGEND_HEIGHT;
}
