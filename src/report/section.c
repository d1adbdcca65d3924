/* section.c: the section through the axis put onto its sheet. */
#include "section_parts.h"

#include "drawings.h"

#include <math.h>
#include <stdio.h>

static const double mm = 1e-3;

/* where things go, in mm of paper */
typedef struct layout {
  double left, right; /* margins beside the section */
  double top, bottom;
  double label_x;        /* column of the labels; 0: a list */
  double lens_x, lens_r; /* magnifier */
  double low, high;      /* of the probe, m */
  double wide_left, wide_right;
} layout;

static layout lay_out(const tw_sheet *sheet, const tw_layout *p)
{
  layout l = {.left = 19.0, .right = 4.0, .top = 7.0, .bottom = 13.0};
  const bool cable = p->link == TW_LINK_FIXED_CABLE || p->link == TW_LINK_PLUG;
  l.low = -p->ball - 1.0 * mm;
  l.high = fmin(p->shank_top, p->house_top + 12.0 * mm) + 1.0 * mm;
  l.wide_left = p->house_radius + 1.0 * mm;
  l.wide_right = p->house_radius + (cable ? 6.5 : 1.0) * mm;
  if (sheet->narrow) {
    l.right = 13.0;
    l.left = 13.0;
    l.lens_r = fmin(26.0, 0.28 * sheet->width);
    l.lens_x = 0.5 * sheet->width;
  } else {
    const bool third = sheet->width >= 235.0;
    l.right = third ? 132.0 : 64.0;
    l.label_x = sheet->width - l.right + 6.0;
    l.lens_r = third ? 30.0 : 22.0;
    l.lens_x = sheet->width - 33.0;
  }
  return l;
}

static double fitting_scale(const tw_sheet *sheet, const layout *l)
{
  const double across = (sheet->width - l->left - l->right) / (l->wide_left + l->wide_right);
  const double up = (sheet->height - l->top - l->bottom) / (l->high - l->low);
  return 1e-3 * (sheet->narrow ? across : fmin(across, up));
}

static tw_status choose_view(tw_sheet *sheet, const layout *l, tw_fault *fault)
{
  const double fits = fitting_scale(sheet, l);
  const double asked = sheet->options->scale;
  if (asked > fits * (1 + 1e-9)) {
    return tw_fail(fault, TW_BAD_INPUT, "",
                   "leave the scale out and the largest that fits is taken",
                   "at %s the section is larger than the sheet; %s fits", tw_scale_text(asked).text,
                   tw_scale_text(tw_scale_below(fits)).text);
  }
  const double scale = asked > 0.0 ? asked : tw_scale_below(fits);
  const double used = 1e3 * scale * (l->wide_left + l->wide_right);
  const double spare = sheet->width - l->left - l->right - used;
  sheet->view = (tw_view){.x0 = l->left + 0.5 * fmax(0.0, spare) + 1e3 * scale * l->wide_left,
                          .y0 = l->top + 1e3 * scale * l->high,
                          .scale = scale};
  return TW_OK;
}

/* ---- dimensions ----------------------------------------------------------------------------- */

static void extension(tw_sheet *sheet, double from, double z, double x)
{
  tw_svg_line(&sheet->svg, "thin", tw_view_x(&sheet->view, from), tw_view_y(&sheet->view, z),
              x - 1.5, tw_view_y(&sheet->view, z));
}

static void dimensions(tw_sheet *sheet, const tw_layout *p)
{
  const tw_view *v = &sheet->view;
  const double edge = tw_view_x(v, -p->house_radius);
  const double near = edge - 4.0, far = edge - 10.5;
  tw_text_put(&sheet->svg, "<g class=\"dimensions\">\n");
  extension(sheet, -p->ball, 0.0, near);
  extension(sheet, -0.4 * mm, p->reach, near);
  tw_svg_dimension_up(&sheet->svg, near, tw_view_y(v, 0.0), tw_view_y(v, p->reach),
                      tw_sheet_plain(sheet, p->reach).text);
  if (!sheet->narrow) {
    extension(sheet, -p->house_radius, p->house_low, far);
    extension(sheet, -p->house_radius, p->house_top, far);
    tw_svg_dimension_up(&sheet->svg, far, tw_view_y(v, p->house_low), tw_view_y(v, p->house_top),
                        tw_sheet_plain(sheet, p->house_top - p->house_low).text);
  }
  tw_text_put(&sheet->svg, "</g>\n");
}

static void ghost_dimension(tw_sheet *sheet, const tw_layout *p)
{
  const tw_view *v = &sheet->view;
  const double y = tw_view_y(v, -p->ball) + 4.5, side = p->turn_z * sin(p->swivel);
  const double x1 = tw_view_x(v, 0.0), x2 = tw_view_x(v, side);
  tw_svg_line(&sheet->svg, "thin", x2, tw_view_y(v, p->turn_z * (1 - cos(p->swivel))), x2, y + 1.0);
  const double rounded = side > 0.0 ? side / pow(10.0, floor(log10(side)) - 1.0) : 0.0;
  const double shown = side > 0.0 ? round(rounded) * side / rounded : 0.0;
  tw_svg_dimension_across(&sheet->svg, x1, x2, y, tw_sheet_plain(sheet, shown).text);
}

/* ---- the sheet ------------------------------------------------------------------------------ */

static void parts(tw_sheet *sheet, const tw_layout *p, const tw_shading *shading)
{
  const double pivot_y = tw_view_y(&sheet->view, p->turn_z);
  /* the moving body: the page turns and lifts this group about its turning point; a push along the
   * axis presses the disc where the carrier stands under it */
  tw_text_add(&sheet->svg,
              "<g class=\"moving\" data-turn-x=\"%.3f\" data-turn-y=\"%.3f\" "
              "data-scale=\"%g\" data-contact=\"%.3f\" data-presses=\"%d\">\n",
              tw_view_x(&sheet->view, 0.0), pivot_y, sheet->view.scale,
              1e3 * sheet->view.scale * (p->bond_radius > 0.0 ? p->bond_radius : p->flat_radius),
              p->has_disc && !(p->seat == TW_SEAT_PLATE && p->disc_below));
  tw_section_stylus(sheet, p);
  tw_section_carrier(sheet, p);
  tw_text_put(&sheet->svg, "</g>\n");
  tw_section_seat(sheet, p);
  tw_section_disc(sheet, p, shading);
  tw_section_support(sheet, p);
  tw_section_preload(sheet, p);
  tw_section_board(sheet, p);
  tw_section_link(sheet, p);
  tw_section_holddown(sheet, p);
  tw_section_screws(sheet, p);
  tw_section_housing(sheet, p);
}

static void centre_line(tw_sheet *sheet, const layout *l)
{
  const double x = tw_view_x(&sheet->view, 0.0);
  tw_svg_line(&sheet->svg, "centre", x, tw_view_y(&sheet->view, l->low) + 2.0, x, l->top - 3.0);
}

/* what does not fit is said, not hidden */
static double say_short(tw_sheet *sheet, const tw_layout *p, double x, double y)
{
  if (p->short_of > 1e-6) {
    char text[TW_SHEET_TEXT];
    snprintf(text, sizeof text, "does not fit: %s longer than the housing",
             tw_sheet_length(sheet, p->short_of).text);
    tw_svg_text(&sheet->svg, "warn", x, y, "start", text);
    return y + 5.0;
  }
  return y;
}

static void wide_margin(tw_sheet *sheet, const tw_layout *p, const tw_shading *shading,
                        const layout *l, const char *scale)
{
  const bool third = sheet->width >= 235.0;
  const double title_y = sheet->height - TW_TITLE_HEIGHT - 2.0;
  const double legend = shading->kind != TW_SHADE_NONE && p->has_disc ? TW_SHADE_LEGEND_HEIGHT : 0;
  const double lens_y = third ? l->lens_r + 6.0 : title_y - 17.0 - legend - l->lens_r;
  const double title_w = third ? 100.0 : 68.0;
  const double bottom = third || !p->has_disc ? title_y - 4.0 : lens_y - l->lens_r - 2.0;
  tw_sheet_labels_beside(sheet, l->label_x, l->top, bottom);
  tw_section_magnifier(sheet, p, shading, l->lens_x, lens_y, l->lens_r);
  tw_sheet_title_block(sheet, sheet->width - title_w - 1.0, title_y, title_w, scale, "section of");
  say_short(sheet, p, 2.0, sheet->height - 11.5);
  tw_sheet_scale_bar(sheet, 4.0, sheet->height - 4.0, sheet->view.scale);
}

static void narrow_margin(tw_sheet *sheet, const tw_layout *p, const tw_shading *shading,
                          const layout *l, const char *scale)
{
  double y = tw_view_y(&sheet->view, l->low) + 15.0;
  tw_sheet_scale_bar(sheet, 4.0, y, sheet->view.scale);
  y = say_short(sheet, p, 2.0, y + 8.0);
  y = tw_sheet_labels_list(sheet, l->top, tw_view_y(&sheet->view, l->low) + 6.0, y);
  if (p->has_disc) {
    y += tw_section_magnifier(sheet, p, shading, l->lens_x, y + l->lens_r + 2.0, l->lens_r);
    y += 2.0 * l->lens_r + 20.0;
  }
  tw_sheet_title_block(sheet, 1.0, y, sheet->width - 2.0, scale, "section of");
  sheet->height = y + TW_TITLE_HEIGHT + 2.0;
}

tw_status tw_drawing_section(const tw_design *design, const tw_drawing_options *options, char **svg,
                             tw_fault *fault)
{
  tw_layout plan;
  tw_status status = tw_layout_make(design, &plan, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_sheet sheet = {.options = options,
                    .design = design,
                    .width = options->width,
                    .height = options->height,
                    .narrow = options->width < 130.0};
  if (options->shade != TW_SHADE_NONE && plan.has_disc && !sheet.narrow) {
    sheet.height += TW_SHADE_LEGEND_HEIGHT; /* labels, magnifier and legend stand in one column */
  }
  const layout l = lay_out(&sheet, &plan);
  status = choose_view(&sheet, &l, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_shading shading;
  status = tw_section_shading(&plan, options->shade, &shading, fault);
  if (status != TW_OK) {
    return status;
  }
  if (options->ghosts) {
    tw_section_ghosts(&sheet, &plan);
  }
  parts(&sheet, &plan, &shading);
  centre_line(&sheet, &l);
  if (options->dimensions) {
    dimensions(&sheet, &plan);
  }
  if (options->dimensions && options->ghosts) {
    ghost_dimension(&sheet, &plan);
  }
  const tw_shown scale = tw_scale_text(sheet.view.scale);
  if (sheet.narrow) {
    narrow_margin(&sheet, &plan, &shading, &l, scale.text);
  } else {
    wide_margin(&sheet, &plan, &shading, &l, scale.text);
  }
  char about[160];
  snprintf(about, sizeof about,
           "Section through the axis, %s, scale %s: tip at the bottom, spindle at the top.",
           tw_choice_help(TW_SET_SEAT, plan.seat), scale.text);
  return tw_sheet_close(&sheet, tw_design_name(design), about, svg, fault);
}
