/* ngc_check.h: an independent reader of motion programs for the tests. It is written from the
 * grammar of the NIST RS274/NGC report (NISTIR 6556, chapter 3: a line is optional words, comments
 * in round brackets, and parameter settings; case and blanks do not matter) and shares no code with
 * the writer. It follows the moves and objects to: a move without a feed in its own line, rapid
 * moves, a move before the operator was asked to look, moves below the clearance that are neither
 * guarded nor a way back along a guarded one, probing shorter than 0.254 mm, probing with the
 * spindle on, and anything the grammar does not know. */
#ifndef TW_TEST_NGC_CHECK_H
#define TW_TEST_NGC_CHECK_H

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct ngc_rules {
  double clearance;    /* mm */
  double secured_feed; /* straight down below the clearance allowed up to this feed; 0: never */
  double most_feed;    /* mm/min */
  const char *guarded; /* number of the guarded word, "38.3", or NULL */
} ngc_rules;

typedef struct ngc_seen {
  int line, moves, probes, records, turns, dwells, stops;
  double lowest, shortest_probe, longest_probe, fastest;
  char problem[200];
} ngc_seen;

typedef struct ngc_state {
  double at[3];
  int known[3];
  /* ways that were gone guarded (or secured) since the clearance was left */
  double way[64][2][3];
  int ways;
  int absolute, millimetres, per_minute, ended, spindle_stopped, exact, offset;
} ngc_state;

static inline int ngc_bad(ngc_seen *s, const char *what)
{
  if (!s->problem[0]) {
    snprintf(s->problem, sizeof s->problem, "line %d: %s", s->line, what);
  }
  return 0;
}

/* is p on the segment a-b, within 2 um (the printed digits are 0.1 um)? */
static inline int ngc_on(const double *a, const double *b, const double *p)
{
  double ab = 0, ap = 0, dot = 0;
  for (int k = 0; k < 3; k++) {
    ab += (b[k] - a[k]) * (b[k] - a[k]);
    dot += (b[k] - a[k]) * (p[k] - a[k]);
    ap += (p[k] - a[k]) * (p[k] - a[k]);
  }
  if (ab == 0) {
    return ap < 4e-6;
  }
  const double t = dot / ab;
  return t >= -1e-6 && t <= 1 + 1e-6 && ap - t * t * ab < 4e-6;
}

/* an unguarded move below the clearance must lie on one way that was gone guarded */
static inline int ngc_way_back(const ngc_state *n, const double *to)
{
  for (int i = 0; i < n->ways; i++) {
    if (ngc_on(n->way[i][0], n->way[i][1], n->at) && ngc_on(n->way[i][0], n->way[i][1], to)) {
      return 1;
    }
  }
  return 0;
}

static inline int ngc_remember(ngc_state *n, const double *to)
{
  for (int i = 0; i < n->ways; i++) {
    if (ngc_on(n->way[i][0], n->way[i][1], n->at) && ngc_on(n->way[i][0], n->way[i][1], to)) {
      return 1;
    }
  }
  if (n->ways == 64) {
    return 0;
  }
  memcpy(n->way[n->ways][0], n->at, sizeof n->at);
  memcpy(n->way[n->ways++][1], to, sizeof n->at);
  return 1;
}

static inline int ngc_move(ngc_state *n, ngc_seen *s, const ngc_rules *r, int guarded, int probing,
                           const double *word, const int *has, double feed)
{
  double to[3];
  double length = 0;
  for (int k = 0; k < 3; k++) {
    to[k] = has[k] ? word[k] : n->at[k];
    if (!has[k] && !n->known[k] && guarded) {
      return ngc_bad(s, "a guarded move from an unknown place");
    }
    length = n->known[k] ? hypot(length, to[k] - n->at[k]) : length;
  }
  if (!(feed > 0)) {
    return ngc_bad(s, "a move without a feed of its own");
  }
  if (feed > r->most_feed) {
    return ngc_bad(s, "a feed above the limit");
  }
  if (!n->absolute || !n->millimetres || !n->per_minute) {
    return ngc_bad(s, "a move before G90, G94 and the unit");
  }
  if (!n->spindle_stopped) {
    return ngc_bad(s, "a move before the spindle is stopped");
  }
  if (!n->exact || !n->offset || !s->stops) {
    return ngc_bad(s, "a move before exact path, work offset and a stop");
  }
  s->moves++;
  s->fastest = fmax(s->fastest, feed);
  const double low = fmin(to[2], n->known[2] ? n->at[2] : to[2]);
  const int below = low < r->clearance - 1e-4;
  if (guarded) {
    if (probing) {
      s->probes++;
      s->shortest_probe = s->probes == 1 ? length : fmin(s->shortest_probe, length);
      s->longest_probe = fmax(s->longest_probe, length);
      if (length < 0.254) {
        return ngc_bad(s, "a probing move shorter than 0.254 mm");
      }
    }
    if (!ngc_remember(n, to)) {
      return ngc_bad(s, "too many different guarded moves one after the other");
    }
  } else if (below) {
    const int down = to[0] == n->at[0] && to[1] == n->at[1] && to[2] < n->at[2] && n->known[2];
    const int secured = down && r->secured_feed > 0 && feed <= r->secured_feed + 1e-6;
    if (!ngc_way_back(n, to) && !(secured && ngc_remember(n, to))) {
      return ngc_bad(s, "an unguarded move below the clearance that is not a way back");
    }
  }
  if (to[2] >= r->clearance - 1e-4) {
    n->ways = 0;
  }
  for (int k = 0; k < 3; k++) {
    n->at[k] = to[k];
    n->known[k] |= has[k];
  }
  s->lowest = fmin(s->lowest, to[2]);
  return 1;
}

static inline int ngc_line(char *line, ngc_state *n, ngc_seen *s, const ngc_rules *r)
{
  double word[3] = {0}, feed = -1, dwell = -1;
  int has[3] = {0}, motion = -1, any = 0;
  char *p = line;
  while (*p) {
    if (isspace((unsigned char)*p)) {
      p++;
      continue;
    }
    if (*p == '(') {
      char *close = strchr(p, ')'), *again = strchr(p + 1, '(');
      if (!close || (again && again < close)) {
        return ngc_bad(s, "a comment that does not close, or nests");
      }
      p = close + 1;
      continue;
    }
    any = 1;
    if (*p == '#') {
      /* #n = #m */
      char *end;
      const long to = strtol(p + 1, &end, 10);
      while (isspace((unsigned char)*end)) {
        end++;
      }
      if (to < 1 || to > 5399 || *end++ != '=') {
        return ngc_bad(s, "not a parameter setting");
      }
      while (isspace((unsigned char)*end)) {
        end++;
      }
      if (*end != '#' || strtol(end + 1, &p, 10) < 5061 || strtol(end + 1, &p, 10) > 5063) {
        return ngc_bad(s, "a parameter that is not a trip position");
      }
      s->records++;
      continue;
    }
    const char letter = (char)toupper((unsigned char)*p);
    char *end;
    const double value = strtod(p + 1, &end);
    if (end == p + 1 || !isfinite(value)) {
      return ngc_bad(s, "a letter without a number");
    }
    p = end;
    const int tenth = (int)lround(value * 10);
    switch (letter) {
    case 'X':
    case 'Y':
    case 'Z':
      word[letter - 'X'] = value;
      has[letter - 'X']++;
      break;
    case 'F':
      feed = value;
      break;
    case 'P':
      dwell = value;
      break;
    case 'R':
      break;
    case 'M':
      if (tenth == 50) {
        n->spindle_stopped = 1;
      } else if (tenth == 300) {
        n->ended = 1;
      } else if (tenth == 0) {
        s->stops++;
      } else if (tenth == 190) {
        s->turns++;
      } else {
        return ngc_bad(s, "an M word that a test has no use for");
      }
      break;
    case 'G':
      if (tenth == 210) {
        n->millimetres = 1;
      } else if (tenth == 900) {
        n->absolute = 1;
      } else if (tenth == 940) {
        n->per_minute = 1;
      } else if (tenth == 610) {
        n->exact = 1;
      } else if (tenth == 540) {
        n->offset = 1;
      } else if (tenth == 40) {
        motion = 40;
      } else if (tenth == 10 || tenth == 382 ||
                 (r->guarded && tenth == (int)lround(atof(r->guarded) * 10))) {
        motion = tenth;
      } else if (tenth != 170 && tenth != 400 && tenth != 490 && tenth != 800) {
        return ngc_bad(s, "a G word that a test has no use for (a rapid?)");
      }
      break;
    default:
      return ngc_bad(s, "a letter that the grammar does not know here");
    }
  }
  if (has[0] > 1 || has[1] > 1 || has[2] > 1) {
    return ngc_bad(s, "an axis twice in a line");
  }
  if (!any) {
    return 1;
  }
  if (n->ended && (has[0] || has[1] || has[2])) {
    return ngc_bad(s, "a move after the end");
  }
  if (motion == 40) {
    s->dwells++;
    return dwell > 0 ? 1 : ngc_bad(s, "a dwell without a time");
  }
  if (has[0] || has[1] || has[2]) {
    return motion < 0 ? ngc_bad(s, "axis words without a motion word in the line")
                      : ngc_move(n, s, r, motion != 10, motion == 382, word, has, feed);
  }
  return motion == 10 || motion >= 380 ? ngc_bad(s, "a motion word without an axis") : 1;
}

/* 1 when nothing is wrong; the text is changed */
static inline int ngc_check(char *text, const ngc_rules *rules, ngc_seen *seen)
{
  ngc_state n = {.at = {0}};
  memset(seen, 0, sizeof *seen);
  seen->lowest = 1e300;
  for (char *line = text; line && *line;) {
    char *end = strchr(line, '\n');
    if (end) {
      *end = '\0';
    }
    seen->line++;
    if (strlen(line) > 256) {
      return ngc_bad(seen, "a line longer than 256 characters");
    }
    if (!ngc_line(line, &n, seen, rules)) {
      return 0;
    }
    line = end ? end + 1 : NULL;
  }
  return n.ended ? 1 : ngc_bad(seen, "the program does not end");
}

#endif
