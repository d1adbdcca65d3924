/* disc_ccx.h: a disc as an axisymmetric solid model for CalculiX (quadratic elements CAX8): writes
 * the deck into a temporary folder, runs ccx, reads displacements or frequencies back. Used by the
 * oracle test and by the benchmark. */
#ifndef TW_TEST_DISC_CCX_H
#define TW_TEST_DISC_CCX_H

#include "tripwright/disc.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

typedef enum ccx_case { CCX_LOAD, CCX_VOLT, CCX_FREE, CCX_HELD } ccx_case;

typedef struct ccx_mesh {
  int inner, outer;   /* elements along the ceramic, along the bare metal */
  int metal, ceramic; /* elements through each layer */
} ccx_mesh;

typedef struct ccx_result {
  double load, centre; /* displacement at the interface above the load ring, and on the axis */
  double hertz;        /* first that is not rigid */
} ccx_result;

static inline bool ccx_there(void)
{
  return system("command -v ccx > /dev/null 2>&1") == 0;
}

/* radius of column i (two columns an element) */
static inline double ccx_r(const tw_disc_spec *s, ccx_mesh m, int i)
{
  const int edge = 2 * m.inner;
  return i <= edge ? s->ceramic_radius * i / edge
                   : s->ceramic_radius +
                         (s->metal_radius - s->ceramic_radius) * (i - edge) / (2 * m.outer);
}

static inline double ccx_z(const tw_disc_spec *s, ccx_mesh m, int j)
{
  const int top = 2 * m.metal;
  return j <= top ? -s->metal_thickness / 2.0 + s->metal_thickness * j / top
                  : s->metal_thickness / 2.0 + s->ceramic_thickness * (j - top) / (2 * m.ceramic);
}

static inline int ccx_node(ccx_mesh m, int i, int j)
{
  const int columns = 2 * (m.inner + m.outer) + 1;
  return j * columns + i + 1;
}

static inline void ccx_write_nodes(FILE *f, const tw_disc_spec *s, ccx_mesh m)
{
  fprintf(f, "*NODE, NSET=ALL\n");
  for (int j = 0; j <= 2 * (m.metal + m.ceramic); j++) {
    const int last = j <= 2 * m.metal ? 2 * (m.inner + m.outer) : 2 * m.inner;
    for (int i = 0; i <= last; i++) {
      if (i % 2 == 0 || j % 2 == 0) {
        fprintf(f, "%d, %.15g, %.15g, 0\n", ccx_node(m, i, j), ccx_r(s, m, i), ccx_z(s, m, j));
      }
    }
  }
}

static inline void ccx_write_elements(FILE *f, ccx_mesh m)
{
  int id = 1;
  for (int layer = 0; layer < 2; layer++) {
    fprintf(f, "*ELEMENT, TYPE=CAX8, ELSET=%s\n", layer == 0 ? "METAL" : "CERAMIC");
    const int from = layer == 0 ? 0 : m.metal, to = layer == 0 ? m.metal : m.metal + m.ceramic;
    for (int j = 2 * from; j < 2 * to; j += 2) {
      for (int i = 0; i < 2 * (layer == 0 ? m.inner + m.outer : m.inner); i += 2) {
        fprintf(f, "%d, %d, %d, %d, %d, %d, %d, %d, %d\n", id++, ccx_node(m, i, j),
                ccx_node(m, i + 2, j), ccx_node(m, i + 2, j + 2), ccx_node(m, i, j + 2),
                ccx_node(m, i + 1, j), ccx_node(m, i + 2, j + 1), ccx_node(m, i + 1, j + 2),
                ccx_node(m, i, j + 1));
      }
    }
  }
}

/* s44 is not among the constants of the disc (a thin plate does not shear): 47.5 pm2/N, the
 * PZT-5A value, from memory; a layer that is alike in all directions has 2 (s11 - s12) */
static inline void ccx_write_materials(FILE *f, const tw_disc_spec *s, ccx_case what)
{
  const tw_disc_ceramic *c = &s->ceramic;
  const double s44 = c->s11 == c->s33 ? 2.0 * (c->s11 - c->s12) : 47.5e-12;
  fprintf(f, "*MATERIAL, NAME=METAL\n*ELASTIC\n%.15g, %.15g\n*DENSITY\n%.15g\n", s->metal.young,
          s->metal.poisson, s->metal.density);
  if (what == CCX_VOLT) {
    fprintf(f, "*EXPANSION, ZERO=0\n0\n");
  }
  /* 1 radial, 2 axial, 3 hoop */
  fprintf(f,
          "*MATERIAL, NAME=CERAMIC\n*ELASTIC, TYPE=ENGINEERING CONSTANTS\n"
          "%.15g, %.15g, %.15g, %.15g, %.15g, %.15g, %.15g, %.15g,\n%.15g\n*DENSITY\n%.15g\n",
          1.0 / c->s11, 1.0 / c->s33, 1.0 / c->s11, -c->s13 / c->s11, -c->s12 / c->s11,
          -c->s13 / c->s33, 1.0 / s44, 0.5 / (c->s11 - c->s12), 1.0 / s44, c->density);
  if (what == CCX_VOLT) {
    /* one volt as a temperature: strain = d x field, field = -1/t */
    const double field = -1.0 / s->ceramic_thickness;
    fprintf(f, "*EXPANSION, TYPE=ORTHO, ZERO=0\n%.15g, %.15g, %.15g\n", c->d31 * field,
            c->d33 * field, c->d31 * field);
  }
  fprintf(f, "*SOLID SECTION, ELSET=METAL, MATERIAL=METAL\n"
             "*SOLID SECTION, ELSET=CERAMIC, MATERIAL=CERAMIC\n");
}

static inline void ccx_write_step(FILE *f, const tw_disc_spec *s, ccx_mesh m, ccx_case what)
{
  int load = 0;
  while (ccx_r(s, m, load) < s->contact_radius * (1.0 - 1e-9)) {
    load += 2;
  }
  fprintf(f, "*BOUNDARY\n");
  for (int j = 0; j <= 2 * (m.metal + m.ceramic); j++) {
    fprintf(f, "%d, 1, 1\n", ccx_node(m, 0, j));
  }
  if (what != CCX_FREE) {
    /* at the middle of what stands at the edge */
    fprintf(f, "%d, 2, 2\n",
            ccx_node(m, 2 * (m.inner + m.outer), m.outer > 0 ? m.metal : 2 * m.metal));
  }
  fprintf(f, "*NSET, NSET=SEEN\n%d, %d\n", ccx_node(m, load, 2 * m.metal),
          ccx_node(m, 0, 2 * m.metal));
  if (what == CCX_VOLT) {
    fprintf(f, "*INITIAL CONDITIONS, TYPE=TEMPERATURE\nALL, 0\n");
  }
  if (what == CCX_FREE || what == CCX_HELD) {
    fprintf(f, "*STEP\n*FREQUENCY\n3\n*END STEP\n");
    return;
  }
  fprintf(f, "*STEP\n*STATIC\n");
  if (what == CCX_LOAD) {
    fprintf(f, "*CLOAD\n%d, 2, 1\n", ccx_node(m, load, 0)); /* a newton all round */
  } else {
    fprintf(f, "*TEMPERATURE\nALL, 1\n");
  }
  fprintf(f, "*NODE PRINT, NSET=SEEN\nU\n*END STEP\n");
}

static inline bool ccx_read(const char *file, ccx_mesh m, ccx_case what, ccx_result *out)
{
  FILE *f = fopen(file, "r");
  char line[300];
  bool found = false;
  while (f != NULL && fgets(line, sizeof line, f) != NULL) {
    double a, b, c, d;
    int n;
    if (what == CCX_FREE || what == CCX_HELD) {
      /* mode, eigenvalue, rad/s, hertz, imaginary part; the rigid mode has next to none */
      if (!found && sscanf(line, "%d %lf %lf %lf %lf", &n, &a, &b, &c, &d) == 5 && c > 10.0) {
        out->hertz = c;
        found = true;
      }
    } else if (sscanf(line, "%d %lf %lf %lf", &n, &a, &b, &c) == 4) {
      *(n == ccx_node(m, 0, 2 * m.metal) ? &out->centre : &out->load) = b;
      found = true;
    }
  }
  if (f != NULL) {
    fclose(f);
  }
  return found;
}

/* false when something failed; `seconds` of ccx alone may be NULL */
static inline bool ccx_run(const tw_disc_spec *s, ccx_mesh m, ccx_case what, ccx_result *out)
{
  char folder[] = "/tmp/tw_ccx_XXXXXX", path[64], command[200];
  memset(out, 0, sizeof *out);
  if (mkdtemp(folder) == NULL) {
    return false;
  }
  snprintf(path, sizeof path, "%s/disc.inp", folder);
  FILE *f = fopen(path, "w");
  if (f == NULL) {
    return false;
  }
  ccx_write_nodes(f, s, m);
  ccx_write_elements(f, m);
  ccx_write_materials(f, s, what);
  ccx_write_step(f, s, m, what);
  fclose(f);
  snprintf(command, sizeof command, "cd %s && OMP_NUM_THREADS=1 ccx disc > ccx.log 2>&1", folder);
  bool good = system(command) == 0;
  snprintf(path, sizeof path, "%s/disc.dat", folder);
  good = good && ccx_read(path, m, what, out);
  if (good) {
    snprintf(command, sizeof command, "rm -rf %s", folder);
    good = system(command) == 0;
  } else {
    fprintf(stderr, "ccx: see %s/ccx.log\n", folder);
  }
  return good;
}

#endif
