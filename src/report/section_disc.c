/* section_disc.c: the disc in its layers, its support with the hollow, and the magnifier. */
#include "section_parts.h"

#include <math.h>
#include <stdio.h>

static const double mm = 1e-3;

/* the layers as boxes; `pull` stretches heights about the lowest face, for the magnifier */
static void layer(tw_sheet *sheet, const tw_layout *p, const tw_view *view, const char *hatch,
                  double radius, double low, double high)
{
  const double hole = p->hole_radius;
  tw_sheet_cut(sheet, hatch);
  if (hole > 0.0) {
    tw_svg_box(&sheet->svg, view, "outline fine", hole, radius, low, high);
    tw_svg_box(&sheet->svg, view, "outline fine", -radius, -hole, low, high);
  } else {
    tw_svg_box(&sheet->svg, view, "outline fine", -radius, radius, low, high);
  }
  tw_sheet_cut_end(sheet);
}

/* tones instead of the hatching: both at once can be read by nobody */
static void layers(tw_sheet *sheet, const tw_layout *p, const tw_view *view, bool toned)
{
  layer(sheet, p, view, toned ? NULL : TW_HATCH_METAL, p->metal_radius, p->metal_low,
        p->metal_low + p->metal);
  layer(sheet, p, view, toned ? NULL : TW_HATCH_CERAMIC, p->ceramic_radius, p->ceramic_face_low,
        p->ceramic_face_low + p->ceramic);
}

void tw_section_disc(tw_sheet *sheet, const tw_layout *p, const tw_shading *shading)
{
  if (!p->has_disc) {
    return;
  }
  const tw_shown thick = tw_sheet_length(sheet, p->disc_top - p->disc_low);
  tw_sheet_part(sheet, "disc", "piezo disc", "disc", 0.85 * p->metal_radius,
                p->metal_low + 0.5 * p->metal, "%s, %s thick",
                tw_sheet_round(sheet, 2.0 * p->metal_radius).text, thick.text);
  tw_section_shade_cells(sheet, shading, sheet->view.x0, sheet->view.y0, 1e3 * sheet->view.scale,
                         1e3 * sheet->view.scale, true);
  layers(sheet, p, &sheet->view, shading->known);
  tw_svg_box(&sheet->svg, &sheet->view, "hit", -p->metal_radius, p->metal_radius,
             p->disc_low - 0.3 * mm, p->disc_top + 0.3 * mm);
  tw_sheet_part_end(sheet);
}

/* ---- support -------------------------------------------------------------------------------- */

/* right half of the body: from the ledge in, over the hollow, and back along its far face */
static size_t body_outline(const tw_layout *p, double outer, double end, tw_point *out)
{
  const double plane = p->support_plane, up = p->support_up ? 1.0 : -1.0;
  const double inner = p->hollow_radius;
  size_t n = 0;
  out[n++] = (tw_point){outer, plane};
  if (p->support == TW_SUPPORT_LEDGE) {
    /* the ring stands proud of the rim's side, so that the disc bears at the ledge only */
    out[n - 1].z = plane + up * fmin(0.4 * mm, 0.5 * fabs(end - plane));
    out[n++] = (tw_point){p->ledge_radius + 0.3 * mm, out[0].z};
    out[n++] = (tw_point){p->ledge_radius, plane};
  }
  if (p->hollow_depth >= 0.0 && inner > 0.0) {
    out[n++] = (tw_point){inner, plane};
    out[n++] = (tw_point){inner, plane + up * p->hollow_depth};
    out[n++] = (tw_point){0.0, plane + up * p->hollow_depth};
    out[n++] = (tw_point){0.0, end};
  } else {
    out[n++] = (tw_point){inner, plane};
    out[n++] = (tw_point){inner, end};
  }
  out[n++] = (tw_point){outer, end};
  return n;
}

static void support_key(tw_sheet *sheet, const tw_layout *p, double x, double z)
{
  const char *kind = tw_design_text(p->design, TW_F_support_kind);
  if (p->support == TW_SUPPORT_LEDGE && p->hollow_depth >= 0.0) {
    tw_sheet_part(sheet, "support", "support", "support", x, z, "ledge at %s, void %s",
                  tw_sheet_length(sheet, p->ledge_radius).text,
                  tw_sheet_fine(sheet, p->hollow_depth).text);
  } else {
    tw_sheet_part(sheet, "support", "support", "support", x, z, "%s%s%s", kind ? kind : "",
                  p->support == TW_SUPPORT_LEDGE ? " at " : "",
                  p->support == TW_SUPPORT_LEDGE ? tw_sheet_length(sheet, p->ledge_radius).text
                                                 : "");
  }
}

void tw_section_support(tw_sheet *sheet, const tw_layout *p)
{
  if (!p->has_disc || p->support == TW_SUPPORT_FREE) {
    return;
  }
  tw_point out[12];
  const double outer = p->cavity - 0.2 * mm;
  const size_t n = body_outline(p, outer, p->support_end, out);
  support_key(sheet, p, 0.5 * (p->ledge_radius + outer), 0.5 * (p->support_plane + p->support_end));
  if (p->support_up) {
    tw_sheet_cut(sheet, TW_HATCH_HOLDER);
    if (out[n - 2].x <= 0.0) {
      tw_svg_solid(&sheet->svg, &sheet->view, "outline", out, n);
    } else {
      tw_svg_poly_pair(&sheet->svg, &sheet->view, "outline", out, n, true);
    }
    tw_sheet_cut_end(sheet);
  }
  if (p->support == TW_SUPPORT_CLAMPED) {
    /* the other jaw */
    const double z = p->support_up ? p->metal_low : p->metal_low + p->metal;
    const double end = p->support_up ? z - 0.8 * mm : z + 0.8 * mm;
    tw_svg_box(&sheet->svg, &sheet->view, "outline solid", p->metal_radius - 0.6 * mm, outer,
               fmin(z, end), fmax(z, end));
    tw_svg_box(&sheet->svg, &sheet->view, "outline solid", -outer, -p->metal_radius + 0.6 * mm,
               fmin(z, end), fmax(z, end));
  }
  tw_sheet_part_end(sheet);
}

/* ---- magnifier ------------------------------------------------------------------------------ */

/* across so that ceramic's edge and support fit, in height so that layers and hollow are seen */
static void magnifier_view(const tw_layout *p, double radius, tw_view *across, double *tall,
                           double *middle)
{
  const double span = fmax(fabs(p->ledge_radius - p->ceramic_radius),
                           p->metal_radius - fmin(p->ledge_radius, p->ceramic_radius));
  const double hollow = fmax(0.0, fmin(p->hollow_depth, 0.4 * mm));
  const double height = p->disc_top - p->disc_low + hollow;
  across->scale = tw_scale_below(1.3 * radius * mm / fmax(span, 0.2 * mm));
  *tall = fmax(across->scale, tw_scale_below(0.7 * radius * mm / fmax(height, 0.05 * mm)));
  *middle = 0.5 * (p->metal_radius + fmin(p->ledge_radius, p->ceramic_radius));
}

typedef struct lens {
  double x, y;         /* centre on the sheet */
  double across, tall; /* scales */
  double r, z;         /* what of the probe stands at the centre */
} lens;

static void lens_box(tw_sheet *sheet, const lens *l, const char *classes, double r1, double r2,
                     double z1, double z2)
{
  const double x = l->x + 1e3 * l->across * (r1 - l->r), y = l->y - 1e3 * l->tall * (z2 - l->z);
  tw_text_add(
      &sheet->svg, "<rect class=\"%s\" x=\"%.3f\" y=\"%.3f\" width=\"%.3f\" height=\"%.3f\"/>\n",
      classes, x, y, 1e3 * l->across * fmax(0.0, r2 - r1), 1e3 * l->tall * fmax(0.0, z2 - z1));
}

static void lens_layers(tw_sheet *sheet, const tw_layout *p, const lens *l, bool toned)
{
  const double far = 40.0 * mm;
  tw_sheet_cut(sheet, toned ? NULL : TW_HATCH_METAL);
  lens_box(sheet, l, "outline", fmax(0.0, l->r - far), p->metal_radius, p->metal_low,
           p->metal_low + p->metal);
  tw_sheet_cut_end(sheet);
  tw_sheet_cut(sheet, toned ? NULL : TW_HATCH_CERAMIC);
  lens_box(sheet, l, "outline", fmax(0.0, l->r - far), p->ceramic_radius, p->ceramic_face_low,
           p->ceramic_face_low + p->ceramic);
  tw_sheet_cut_end(sheet);
  if (p->silver > 0.0) {
    const double z = p->ceramic_low ? p->disc_low : p->disc_top - p->silver;
    const double electrode =
        0.5 * tw_design_number_or(p->design, TW_F_disc_electrode_diameter, 2 * p->ceramic_radius);
    lens_box(sheet, l, "dark", fmax(0.0, l->r - far), electrode, z, z + p->silver);
  }
  if (p->bond > 0.0) {
    const double z = p->ceramic_low ? p->ceramic_face_low + p->ceramic : p->metal_low + p->metal;
    lens_box(sheet, l, "bond", fmax(0.0, l->r - far), p->ceramic_radius, z, z + p->bond);
  }
}

/* ledge and floor of the hollow; the body beyond the lens is cut by its rim */
static void lens_support(tw_sheet *sheet, const tw_layout *p, const lens *l)
{
  const double plane = p->support_plane, far = 40.0 * mm, deep = 6.0 * mm;
  const double up = p->support_up ? 1.0 : -1.0;
  if (p->support == TW_SUPPORT_FREE) {
    return;
  }
  tw_sheet_cut(sheet, TW_HATCH_HOLDER);
  const double ledge = p->support == TW_SUPPORT_LEDGE ? p->ledge_radius : p->hollow_radius;
  const double end = plane + up * deep;
  lens_box(sheet, l, "outline", ledge, l->r + far, fmin(plane, end), fmax(plane, end));
  if (p->hollow_depth >= 0.0) {
    const double floor = plane + up * p->hollow_depth;
    lens_box(sheet, l, "outline", fmax(0.0, l->r - far), fmax(ledge, 0.0), fmin(floor, end),
             fmax(floor, end));
  }
  tw_sheet_cut_end(sheet);
}

/* names with their figures at the left rim of the lens, as a small list under it */
static void lens_list(tw_sheet *sheet, const tw_layout *p, double x, double y)
{
  char line[TW_SHEET_TEXT];
  tw_text *svg = &sheet->svg;
  snprintf(line, sizeof line, "plate %s, ceramic %s", tw_sheet_fine(sheet, p->metal).text,
           tw_sheet_fine(sheet, p->ceramic).text);
  tw_svg_text(svg, "key", x, y, "middle", line);
  if (p->hollow_depth > 0.0) {
    snprintf(line, sizeof line, "void %s under the disc",
             tw_sheet_fine(sheet, p->hollow_depth).text);
    tw_svg_text(svg, "key", x, y + 4.4, "middle", line);
  }
}

/* half the disc, from the axis to its edge: a shading is of no use without the middle */
static void magnifier_of_half(const tw_layout *p, double radius, tw_view *across, double *tall,
                              double *middle)
{
  const double height = p->disc_top - p->disc_low + fmax(0.0, fmin(p->hollow_depth, 0.4 * mm));
  across->scale = tw_scale_below(1.75 * radius * mm / p->metal_radius);
  *tall = fmax(across->scale, tw_scale_below(0.8 * radius * mm / fmax(height, 0.05 * mm)));
  *middle = 0.5 * p->metal_radius;
}

double tw_section_magnifier(tw_sheet *sheet, const tw_layout *p, const tw_shading *shading,
                            double x, double y, double radius)
{
  if (!p->has_disc) {
    return 0;
  }
  tw_text *svg = &sheet->svg;
  tw_view across = {0};
  lens l = {.x = x, .y = y};
  (shading->kind == TW_SHADE_NONE ? magnifier_view : magnifier_of_half)(p, radius, &across, &l.tall,
                                                                        &l.r);
  l.across = across.scale;
  l.z = 0.5 * (p->disc_low + p->disc_top) +
        (p->support_up ? 0.5 : -0.5) * fmin(fmax(p->hollow_depth, 0.0), 0.4 * mm);
  tw_text_add(svg,
              "<clipPath id=\"lens\"><circle cx=\"%.3f\" cy=\"%.3f\" r=\"%.3f\"/>"
              "</clipPath>\n<g class=\"lens\" clip-path=\"url(#lens)\">\n",
              x, y, radius);
  const double x0 = x - 1e3 * l.across * l.r, y0 = y + 1e3 * l.tall * l.z;
  lens_support(sheet, p, &l);
  tw_section_shade_cells(sheet, shading, x0, y0, 1e3 * l.across, 1e3 * l.tall, false);
  lens_layers(sheet, p, &l, shading->known);
  if (shading->kind != TW_SHADE_NONE) {
    tw_svg_line(svg, "centre", x0, y + radius, x0, y - radius);
  }
  tw_section_shade_marks(sheet, shading, x0, y0, 1e3 * l.across, 1e3 * l.tall);
  tw_text_put(svg, "</g>\n");
  tw_text_add(svg, "<circle class=\"lens-rim\" cx=\"%.3f\" cy=\"%.3f\" r=\"%.3f\"/>\n", x, y,
              radius);
  char line[TW_SHEET_TEXT];
  snprintf(line, sizeof line, "A  %s across, %s in height", tw_scale_text(l.across).text,
           tw_scale_text(l.tall).text);
  tw_svg_text(svg, "name", x, y + radius + 5.0, "middle", line);
  lens_list(sheet, p, x, y + radius + 9.6);
  /* where it looks: a thin circle in the section, with the same letter */
  const double sx = tw_view_x(&sheet->view, l.r), sy = tw_view_y(&sheet->view, l.z);
  const double small = fmax(2.4, radius / l.across * sheet->view.scale);
  tw_text_add(svg, "<circle class=\"lens-mark\" cx=\"%.3f\" cy=\"%.3f\" r=\"%.3f\"/>\n", sx, sy,
              small);
  tw_svg_text(svg, "name", sx + small + 0.8, sy - small + 0.6, "start", "A");
  return shading->kind == TW_SHADE_NONE
             ? 0
             : tw_section_shade_legend(sheet, shading, x, y + radius + 16.0);
}
