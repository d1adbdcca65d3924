/* section_housing.c: preload, board, hold-down, link, housing, screws, and the ghosts. */
#include "section_parts.h"

#include <math.h>
#include <stdio.h>

static const double mm = 1e-3;

/* both halves of a ring */
static void ring(tw_sheet *sheet, const char *classes, double inner, double outer, double low,
                 double high)
{
  if (inner <= 0.0) {
    tw_svg_box(&sheet->svg, &sheet->view, classes, -outer, outer, low, high);
  } else if (outer > inner) {
    tw_svg_box(&sheet->svg, &sheet->view, classes, inner, outer, low, high);
    tw_svg_box(&sheet->svg, &sheet->view, classes, -outer, -inner, low, high);
  }
}

/* a coil spring seen from the side: a zigzag of thick wire */
static void coil(tw_sheet *sheet, double radius, double low, double high)
{
  enum { TURNS = 10 };
  tw_point points[TURNS + 1];
  for (int i = 0; i <= TURNS; i++) {
    points[i] = (tw_point){i % 2 ? radius : -radius, low + (high - low) * i / TURNS};
  }
  tw_svg_poly(&sheet->svg, &sheet->view, "wire", points, TURNS + 1, false);
}

void tw_section_preload(tw_sheet *sheet, const tw_layout *p)
{
  const tw_design *d = p->design;
  const char *kind = tw_design_text(d, TW_F_preload_kind);
  char key[TW_SHEET_TEXT];
  if (tw_design_has(d, TW_F_preload_force) && tw_design_applies(d, TW_F_preload_force)) {
    snprintf(key, sizeof key, "%.3g N", tw_design_number(d, TW_F_preload_force));
  } else if (tw_design_has(d, TW_F_preload_interference)) {
    snprintf(key, sizeof key, "interference %s",
             tw_sheet_fine(sheet, tw_design_number(d, TW_F_preload_interference)).text);
  } else {
    snprintf(key, sizeof key, "no %s given", kind ? kind : "force");
  }
  tw_sheet_part(sheet, "preload", p->has_spring ? "spring and bridge" : "clamp", "preload",
                0.8 * p->cavity, 0.5 * (p->bridge_low + p->bridge_top), "%s", key);
  if (p->has_spring) {
    coil(sheet, p->spring_radius, p->spring_low, p->spring_top);
    tw_svg_box(&sheet->svg, &sheet->view, "hit", -p->spring_radius, p->spring_radius, p->spring_low,
               p->spring_top);
  }
  tw_sheet_cut(sheet, TW_HATCH_HOUSING);
  ring(sheet, "outline", p->has_spring ? 1.0 * mm : 0.6 * p->cavity, p->cavity, p->bridge_low,
       p->bridge_top);
  tw_sheet_cut_end(sheet);
  tw_sheet_part_end(sheet);
}

/* the lid of the holder, on which the hold-down presses */
static void cover(tw_sheet *sheet, const tw_layout *p)
{
  tw_sheet_cut(sheet, TW_HATCH_HOLDER);
  ring(sheet, "outline", fmin(3.0 * mm, 0.3 * p->cavity), p->holder_radius, p->cover_low,
       p->holder_top);
  tw_sheet_cut_end(sheet);
}

void tw_section_board(tw_sheet *sheet, const tw_layout *p)
{
  const double r = p->board_radius;
  tw_sheet_part(sheet, "board", "board", "circuit", 0.8 * r, 0.5 * (p->board_low + p->board_top),
                "%s, %s", tw_sheet_round(sheet, 2.0 * r).text,
                tw_design_text(p->design, TW_F_circuit_kind)
                    ? tw_design_text(p->design, TW_F_circuit_kind)
                    : "");
  tw_sheet_cut(sheet, TW_HATCH_BOARD);
  ring(sheet, "outline", p->board_hole, r, p->board_low, p->board_top);
  tw_sheet_cut_end(sheet);
  if (p->parts_top > p->board_top) {
    const double high = p->parts_top;
    tw_svg_box(&sheet->svg, &sheet->view, "outline solid", -0.75 * r, -0.3 * r, p->board_top,
               p->board_top + 0.6 * (high - p->board_top));
    tw_svg_box(&sheet->svg, &sheet->view, "outline solid", 0.15 * r, 0.55 * r, p->board_top, high);
  }
  tw_sheet_part_end(sheet);
}

void tw_section_holddown(tw_sheet *sheet, const tw_layout *p)
{
  if (p->holddown == TW_HOLDDOWN_NONE) {
    tw_sheet_part(sheet, "holddown", "cover", "holddown", 0.7 * p->holder_radius,
                  0.5 * (p->cover_low + p->holder_top), "holder fixed in the housing");
    cover(sheet, p);
    tw_sheet_part_end(sheet);
    return;
  }
  const double x = 0.5 * (p->foam_inner + p->foam_outer);
  const double z = 0.5 * (p->foam_low + p->foam_top);
  if (p->holddown == TW_HOLDDOWN_SPRING) {
    tw_sheet_part(sheet, "holddown", "hold-down spring", "holddown", x, z, "%.3g N",
                  tw_design_number_or(p->design, TW_F_holddown_force, 0.0));
    for (int side = -1; side <= 1; side += 2) {
      tw_point points[7];
      for (int i = 0; i < 7; i++) {
        points[i] = (tw_point){side * (x + (i % 2 ? 1.5 : -1.5) * mm),
                               p->foam_low + (p->foam_top - p->foam_low) * i / 6};
      }
      tw_svg_poly(&sheet->svg, &sheet->view, "wire", points, 7, false);
    }
    cover(sheet, p);
    ring(sheet, "hit", x - 2.0 * mm, x + 2.0 * mm, p->foam_low, p->foam_top);
  } else {
    tw_sheet_part(sheet, "holddown", "foam ring", "holddown", x, z, "%s / %s, %s high",
                  tw_sheet_round(sheet, 2.0 * p->foam_outer).text,
                  tw_sheet_round(sheet, 2.0 * p->foam_inner).text,
                  tw_sheet_length(sheet, p->foam_top - p->foam_low).text);
    cover(sheet, p);
    tw_sheet_cut(sheet, TW_HATCH_FOAM);
    ring(sheet, "outline", p->foam_inner, p->foam_outer, p->foam_low, p->foam_top);
    tw_sheet_cut_end(sheet);
  }
  tw_sheet_part_end(sheet);
}

/* a cable through the wall, a plug on it, pins at the top, or the window of a radio */
void tw_section_link(tw_sheet *sheet, const tw_layout *p)
{
  const double z = fmin(fmax(p->board_top + 1.0 * mm, p->house_low + p->wall + 3.0 * mm),
                        p->house_top - 3.0 * mm);
  const double in = p->house_inner - 0.5 * mm, out = p->house_radius;
  const double length = tw_design_number_or(p->design, TW_F_link_cable_length, 0.0);
  tw_text *svg = &sheet->svg;
  if (p->link == TW_LINK_FIXED_CABLE || p->link == TW_LINK_PLUG) {
    tw_sheet_part(sheet, "link", p->link == TW_LINK_PLUG ? "plug and cable" : "cable", "link",
                  out + 4.0 * mm, z, "%.3g m", length);
    if (p->link == TW_LINK_PLUG) {
      tw_svg_box(svg, &sheet->view, "outline solid", in, out + 3.0 * mm, z - 2.5 * mm,
                 z + 2.5 * mm);
    }
    tw_svg_box(svg, &sheet->view, "outline solid", in, out + 6.0 * mm, z - 1.2 * mm, z + 1.2 * mm);
  } else if (p->link == TW_LINK_RADIO) {
    tw_sheet_part(sheet, "link", "radio window", "link", out, z, "battery and radio");
    tw_svg_box(svg, &sheet->view, "outline solid", out - 1.0 * mm, out, z - 3.0 * mm, z + 3.0 * mm);
  } else {
    tw_sheet_part(sheet, "link", "spring contacts", "link", p->shank_radius + 1.5 * mm,
                  p->house_top + 2.5 * mm, "through the spindle nose");
    ring(sheet, "outline solid", p->shank_radius + 1.0 * mm, p->shank_radius + 2.0 * mm,
         p->house_top + 1.5 * mm, p->house_top + 3.5 * mm);
  }
  tw_sheet_part_end(sheet);
}

/* the shank may be long: what goes beyond is broken off, as drawings have it */
static double shank_shown(const tw_layout *p)
{
  return fmin(p->shank_top, p->house_top + 12.0 * mm);
}

static void shank(tw_sheet *sheet, const tw_layout *p)
{
  const double top = shank_shown(p), r = p->shank_radius;
  const tw_point plug[] = {{0.0, p->ceiling},
                           {p->plug_radius, p->ceiling},
                           {p->plug_radius, p->house_top},
                           {p->house_radius, p->house_top},
                           {p->house_radius, p->house_top + 1.5 * mm},
                           {r, p->house_top + 1.5 * mm},
                           {r, top}};
  tw_sheet_part(sheet, "shank", "shank", "housing", 0.6 * r, top - 3.0 * mm, "%s, %s long",
                tw_sheet_round(sheet, 2.0 * r).text,
                tw_sheet_length(sheet, p->shank_top - p->house_top).text);
  tw_svg_solid(&sheet->svg, &sheet->view, "outline solid", plug, 7);
  if (top < p->shank_top) {
    const tw_point wave[] = {{-r - 1.0 * mm, top},
                             {-0.5 * r, top + 0.8 * mm},
                             {0.5 * r, top - 0.8 * mm},
                             {r + 1.0 * mm, top}};
    tw_svg_poly(&sheet->svg, &sheet->view, "thin", wave, 4, false);
  }
  tw_sheet_part_end(sheet);
}

void tw_section_housing(tw_sheet *sheet, const tw_layout *p)
{
  const tw_point tube[] = {{p->opening, p->house_low},
                           {p->house_radius, p->house_low},
                           {p->house_radius, p->house_top},
                           {p->house_inner, p->house_top},
                           {p->house_inner, p->house_low + p->wall},
                           {p->opening, p->house_low + p->wall}};
  tw_sheet_part(sheet, "housing", "housing", "housing", p->house_radius - 0.5 * p->wall,
                0.65 * p->house_top + 0.35 * p->house_low, "%s, wall %s",
                tw_sheet_round(sheet, 2.0 * p->house_radius).text,
                tw_sheet_length(sheet, p->wall).text);
  tw_sheet_cut(sheet, TW_HATCH_HOUSING);
  tw_svg_poly_pair(&sheet->svg, &sheet->view, "outline", tube, 6, true);
  tw_sheet_cut_end(sheet);
  tw_sheet_part_end(sheet);
  shank(sheet, p);
}

void tw_section_screws(tw_sheet *sheet, const tw_layout *p)
{
  if (p->screws != TW_SCREWS_AXIAL && p->screws != TW_SCREWS_RADIAL) {
    return;
  }
  const double r = 1.5 * mm;
  const char *way = p->screws == TW_SCREWS_AXIAL ? "along" : "across";
  const double pitch = tw_design_number_or(p->design, TW_F_housing_screw_pitch, 0.5 * mm);
  if (p->screws == TW_SCREWS_RADIAL) {
    const double z = fmin(fmax(p->screw_z, p->ceiling + r), p->house_top - r);
    tw_sheet_part(sheet, "screws", "adjusting screws", "housing", p->house_radius, z,
                  "%d %s, pitch %s", p->screw_count, way, tw_sheet_length(sheet, pitch).text);
    ring(sheet, "outline solid", p->plug_radius - 0.1 * mm, p->house_radius + 0.6 * mm, z - r,
         z + r);
    ring(sheet, "thin", p->plug_radius - 0.1 * mm, p->house_radius + 0.6 * mm, z - 0.8 * r,
         z + 0.8 * r);
  } else {
    const double x = fmin(p->screw_radius, p->house_radius - r);
    const double low = p->house_top - 5.0 * mm, high = p->house_top + 3.0 * mm;
    tw_sheet_part(sheet, "screws", "adjusting screws", "housing", x, high, "%d %s, pitch %s",
                  p->screw_count, way, tw_sheet_length(sheet, pitch).text);
    ring(sheet, "outline solid", x - r, x + r, low, high);
    ring(sheet, "thin", x - 0.8 * r, x + 0.8 * r, low, high);
  }
  tw_sheet_part_end(sheet);
}

/* ---- ghosts --------------------------------------------------------------------------------- */

/* ball and stem turned by `angle` about the seat and lifted by `lift` */
static void ghost(tw_sheet *sheet, const tw_layout *p, double angle, double lift)
{
  const double s = sin(angle), c = cos(angle);
  const double x = -p->turn_z * s, z = p->turn_z * (1.0 - c) + lift;
  const double top = p->turn_z - fmax(p->head, 2.0 * mm);
  tw_svg_circle(&sheet->svg, &sheet->view, "ghost", x, z, p->ball);
  for (int side = -1; side <= 1; side += 2) {
    tw_point line[2];
    const double r = side * p->step_radius[p->steps - 1];
    const double ends[2] = {p->ball, top};
    for (int i = 0; i < 2; i++) {
      const double up = ends[i] - p->turn_z;
      line[i] = (tw_point){r * c + up * s, p->turn_z + up * c - r * s + lift};
    }
    tw_svg_poly(&sheet->svg, &sheet->view, "ghost", line, 2, false);
  }
}

void tw_section_ghosts(tw_sheet *sheet, const tw_layout *p)
{
  tw_text_put(&sheet->svg, "<g class=\"ghosts\" aria-hidden=\"true\">\n");
  ghost(sheet, p, p->swivel, 0.0);
  ghost(sheet, p, -p->swivel, 0.0);
  ghost(sheet, p, 0.0, p->travel_axial);
  tw_text_put(&sheet->svg, "</g>\n");
}
