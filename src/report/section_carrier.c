/* section_carrier.c: stylus, carrier and what it rests on, for the four families of seats.
 *
 * Balls, stems and rods are not cut (they show nothing inside), as drawings have it.
 */
#include "section_parts.h"
#include "tripwright/constants.h"

#include <math.h>

static const double mm = 1e-3;

/* the outline of the stem's steps, from the ball up to `top` */
static size_t stem_outline(const tw_layout *p, double top, tw_point *out, size_t room)
{
  size_t n = 0;
  double low = sqrt(fmax(0.0, p->ball * p->ball - p->step_radius[0] * p->step_radius[0]));
  for (int i = 0; i < p->steps && n + 2 <= room && low < top; i++) {
    const double high = fmin(p->step_top[i], top);
    out[n++] = (tw_point){p->step_radius[i], low};
    out[n++] = (tw_point){p->step_radius[i], high};
    low = high;
  }
  return n;
}

void tw_section_stylus(tw_sheet *sheet, const tw_layout *p)
{
  tw_text *svg = &sheet->svg;
  const tw_design *d = p->design;
  const char *ball = tw_design_text(d, TW_F_stylus_ball);
  const char *stem = tw_design_text(d, TW_F_stylus_stem);
  tw_sheet_part(sheet, "ball", "ball tip", "stylus", p->ball * 0.7, 0.0, "%s %s",
                tw_sheet_round(sheet, 2.0 * p->ball).text, ball ? ball : "");
  tw_svg_circle(svg, &sheet->view, "outline solid", 0.0, 0.0, p->ball);
  tw_sheet_part_end(sheet);

  tw_point points[2 * TW_PLAN_STEPS];
  const double top = p->seat == TW_SEAT_PIVOT ? p->reach - p->head * 0.98 : p->stem_top;
  const double shown_top = p->covered > 0.0 ? fmin(top, p->reach - p->covered) : top;
  const size_t n = stem_outline(p, shown_top, points, 2 * TW_PLAN_STEPS);
  tw_sheet_part(sheet, "stem", "stem", "stylus", p->step_radius[0], 0.45 * shown_top, "%s %s",
                tw_sheet_round(sheet, 2.0 * p->step_radius[p->steps - 1]).text, stem ? stem : "");
  if (n) {
    tw_svg_solid(svg, &sheet->view, "outline solid", points, n);
  }
  tw_svg_box(svg, &sheet->view, "hit", -1.5 * mm, 1.5 * mm, p->ball, shown_top);
  tw_sheet_part_end(sheet);
}

/* ---- carriers ------------------------------------------------------------------------------- */

/* what the carrier covers of the stem below the seat's reference point */
static void boss(tw_sheet *sheet, const tw_layout *p, double top)
{
  if (p->covered > 0.0) {
    const double r = p->stem_radius + 0.9 * mm;
    tw_svg_box(&sheet->svg, &sheet->view, "outline solid", -r, r, p->reach - p->covered, top);
  }
}

/* a ball cut off at the flat */
static void ball_head(tw_sheet *sheet, const tw_layout *p)
{
  enum { ARC = 40 };
  tw_point points[ARC + 2];
  const double cut = asin(fmin(1.0, fmax(-1.0, p->flat_height / p->head)));
  for (int i = 0; i <= ARC; i++) {
    const double a = -1.5707963 + (cut + 1.5707963) * i / ARC;
    points[i] = (tw_point){p->head * cos(a), p->reach + p->head * sin(a)};
  }
  points[ARC + 1] = (tw_point){0.0, p->reach + p->flat_height};
  boss(sheet, p, p->reach - 0.9 * p->head);
  tw_sheet_cut(sheet, TW_HATCH_CARRIER);
  tw_svg_solid(&sheet->svg, &sheet->view, "outline", points, ARC + 2);
  tw_sheet_cut_end(sheet);
  /* the contact circle of the flat stands a little proud when it is smaller than the cut */
  const double r = p->flat_radius;
  tw_svg_box(&sheet->svg, &sheet->view, "outline accent-fill", -r - 0.2 * mm, -r + 0.2 * mm,
             p->carrier_top - 0.25 * mm, p->carrier_top);
  tw_svg_box(&sheet->svg, &sheet->view, "outline accent-fill", r - 0.2 * mm, r + 0.2 * mm,
             p->carrier_top - 0.25 * mm, p->carrier_top);
}

/* hub and, turned into the section, one arm each side */
static void star(tw_sheet *sheet, const tw_layout *p)
{
  const tw_view *v = &sheet->view;
  const double hub = fmax(p->flat_radius + 0.8 * mm, p->stem_radius + 1.5 * mm);
  boss(sheet, p, p->reach - 1.2 * mm);
  tw_sheet_cut(sheet, TW_HATCH_CARRIER);
  tw_svg_box(&sheet->svg, v, "outline", -hub, hub, p->reach - 1.2 * mm, p->carrier_top);
  tw_sheet_cut_end(sheet);
  for (int side = -1; side <= 1; side += 2) {
    const double in = side * hub, out = side * (p->pitch_radius + 1.5 * mm);
    const double thick = p->vee ? 0.8 * mm : 1.0 * mm;
    const double z = p->vee ? p->reach : p->reach + 1.0 * mm;
    tw_svg_box(&sheet->svg, v, "outline solid", in, out, z - thick, z + thick);
  }
}

static void flat_plate(tw_sheet *sheet, const tw_layout *p)
{
  const double out = p->carrier_radius;
  boss(sheet, p, p->reach);
  tw_sheet_cut(sheet, TW_HATCH_CARRIER);
  tw_svg_box(&sheet->svg, &sheet->view, "outline", -out, out, p->reach, p->carrier_top);
  tw_sheet_cut_end(sheet);
}

static void glued_foot(tw_sheet *sheet, const tw_layout *p)
{
  const double r = p->bond_radius, low = p->disc_low - 1.2 * mm;
  boss(sheet, p, low);
  tw_svg_box(&sheet->svg, &sheet->view, "outline solid", -r, r, low, p->disc_low);
}

void tw_section_carrier(tw_sheet *sheet, const tw_layout *p)
{
  const double side = 0.7 * fmin(p->carrier_radius, p->head > 0.0 ? p->head : p->carrier_radius);
  double z = 0.5 * (p->reach + p->carrier_top);
  tw_shown figure;
  switch (p->seat) {
  case TW_SEAT_PIVOT:
    figure = tw_sheet_length(sheet, p->head);
    tw_sheet_part(sheet, "carrier", "ball head", "seat", side, p->reach - 0.2 * p->head,
                  "radius %s, flat %s", figure.text,
                  tw_sheet_round(sheet, 2.0 * p->flat_radius).text);
    ball_head(sheet, p);
    break;
  case TW_SEAT_TRIPOD:
    figure = tw_sheet_length(sheet, p->pitch_radius);
    tw_sheet_part(sheet, "carrier", "carrier", "seat", p->pitch_radius, p->reach,
                  "three arms, seats at %s", figure.text);
    star(sheet, p);
    break;
  case TW_SEAT_PLATE:
    figure = tw_sheet_length(sheet, p->tipping_radius);
    tw_sheet_part(sheet, "carrier", "carrier plate", "seat", 0.8 * p->carrier_radius, z,
                  "tips at %s", figure.text);
    flat_plate(sheet, p);
    break;
  default:
    figure = tw_sheet_length(sheet, p->bond_radius);
    z = p->disc_low - 0.6 * mm;
    tw_sheet_part(sheet, "carrier", "glued foot", "seat", 0.7 * p->bond_radius, z, "radius %s",
                  figure.text);
    glued_foot(sheet, p);
  }
  tw_sheet_part_end(sheet);
}

/* ---- what it rests on ----------------------------------------------------------------------- */

/* right half of the holder's floor around the ball: cone, edge or sphere, then the bore down */
static size_t socket_outline(const tw_layout *p, tw_point *out)
{
  const double s = sin(p->socket_angle), c = cos(p->socket_angle);
  const double rc = p->head * s, zc = p->reach - p->head * c;
  const double bore = fmin(p->bore, 0.95 * rc), wide = p->head + 0.5 * mm;
  const double upper = p->reach - 0.1 * p->head;
  size_t n = 0;
  out[n++] = (tw_point){p->body_radius, p->holder_low};
  out[n++] = (tw_point){bore, p->holder_low};
  if (p->socket_shape == TW_SOCKET_CONE) {
    /* along the tangent through the contact circle: (c, s) */
    const double down = fmin((rc - bore) / c, 0.6 * p->head);
    const double up = fmin((wide - rc) / c, (upper - zc) / s);
    out[n++] = (tw_point){bore, zc - s * down};
    out[n++] = (tw_point){rc - c * down, zc - s * down};
    out[n++] = (tw_point){rc + c * up, zc + s * up};
    out[n++] = (tw_point){wide, zc + s * up};
  } else if (p->socket_shape == TW_SOCKET_EDGE) {
    out[n++] = (tw_point){rc, p->holder_low};
    out[n - 2] = out[n - 1];
    n--;
    out[n++] = (tw_point){rc, zc};
    out[n++] = (tw_point){wide, zc};
  } else {
    for (int i = 0; i <= 12; i++) {
      const double a =
          asin(fmin(1.0, bore / p->head)) + (1.4 - asin(fmin(1.0, bore / p->head))) * i / 12.0;
      out[n++] = (tw_point){p->head * sin(a), p->reach - p->head * cos(a)};
    }
    const double arc_end = out[n - 1].z;
    out[n++] = (tw_point){wide, arc_end};
  }
  return n;
}

/* floor of the holder with a lip, ring or pads at radius `inner` up to height `top` */
static size_t lip_outline(const tw_layout *p, double inner, double top, tw_point *out)
{
  const double floor = fmin(top - 1.0 * mm, p->holder_low + 1.5 * mm);
  size_t n = 0;
  out[n++] = (tw_point){p->body_radius, p->holder_low};
  out[n++] = (tw_point){p->bore, p->holder_low};
  out[n++] = (tw_point){p->bore, floor};
  if (inner > p->bore + 0.3 * mm) {
    out[n++] = (tw_point){inner - 0.5 * mm, floor};
  }
  out[n++] = (tw_point){inner - 0.05 * mm, top};
  out[n++] = (tw_point){inner + 0.6 * mm, top};
  out[n++] = (tw_point){inner + 0.6 * mm, floor};
  return n;
}

/* close the right half: up the cavity, over the board's shoulder to the cover, back by the flange
 */
static size_t wall_outline(const tw_layout *p, tw_point *out, size_t n)
{
  const double z = out[n - 1].z;
  if (out[n - 1].x < p->cavity) {
    out[n++] = (tw_point){p->cavity, z};
  }
  if (p->board_cavity > p->cavity) {
    out[n++] = (tw_point){p->cavity, p->board_low};
    out[n++] = (tw_point){p->board_cavity, p->board_low};
  }
  out[n++] = (tw_point){p->board_cavity, p->cover_low};
  out[n++] = (tw_point){p->holder_radius, p->cover_low};
  if (p->body_radius < p->holder_radius) {
    out[n++] = (tw_point){p->holder_radius, p->flange_low};
    out[n++] = (tw_point){p->body_radius, p->flange_low};
  }
  return n;
}

/* the pads or pairs of balls under the three arms */
static void tripod_seats(tw_sheet *sheet, const tw_layout *p)
{
  for (int side = -1; side <= 1; side += 2) {
    const double x = side * p->pitch_radius;
    if (p->vee) {
      /* two balls, one before and one behind the section: seen as one circle */
      const double beta = tw_design_number_or(p->design, TW_F_seat_vee_angle, 0.7854);
      const double ball = 1.2 * mm, gap = (0.8 * mm + ball) * cos(beta);
      tw_svg_circle(&sheet->svg, &sheet->view, "outline solid", x, p->reach - gap, ball);
    } else {
      tw_svg_circle(&sheet->svg, &sheet->view, "outline solid", x, p->reach - 1.2 * mm, 1.2 * mm);
    }
  }
}

void tw_section_seat(tw_sheet *sheet, const tw_layout *p)
{
  tw_point out[32];
  size_t n;
  const double preload_text = tw_design_number_or(p->design, TW_F_preload_force, 0.0);
  const double x = p->body_radius - 0.8 * mm, z = p->holder_low + 0.9 * mm;
  switch (p->seat) {
  case TW_SEAT_PIVOT:
    tw_sheet_part(sheet, "seat", "socket", "seat", x, z, "%s, %.4g\u00b0",
                  tw_design_text(p->design, TW_F_seat_socket_shape), p->socket_angle * TW_RADIAN);
    n = socket_outline(p, out);
    break;
  case TW_SEAT_TRIPOD:
    tw_sheet_part(sheet, "seat", "three seats", "seat", x, z, "%s", p->vee ? "vee" : "flat");
    n = lip_outline(p, p->pitch_radius - 1.2 * mm,
                    p->vee ? p->reach - 2.2 * mm : p->reach - 1.9 * mm, out);
    break;
  case TW_SEAT_PLATE:
    tw_sheet_part(sheet, "seat", p->disc_below ? "ledge below the disc" : "lip", "seat", x, z,
                  "at %s",
                  tw_sheet_length(sheet, p->disc_below ? p->ledge_radius : p->tipping_radius).text);
    n = p->disc_below ? lip_outline(p, p->ledge_radius, p->support_plane, out)
                      : lip_outline(p, p->tipping_radius, p->reach, out);
    break;
  default:
    tw_sheet_part(sheet, "seat", "clamp below the disc", "seat", x, z,
                  preload_text > 0.0 ? "%.3g N" : "no preload", preload_text);
    n = lip_outline(p, p->ledge_radius - 0.3 * mm, p->metal_low, out);
  }
  n = wall_outline(p, out, n);
  tw_sheet_cut(sheet, TW_HATCH_HOLDER);
  tw_svg_poly_pair(&sheet->svg, &sheet->view, "outline", out, n, true);
  tw_sheet_cut_end(sheet);
  if (p->seat == TW_SEAT_TRIPOD) {
    tripod_seats(sheet, p);
  }
  tw_sheet_part_end(sheet);
}
