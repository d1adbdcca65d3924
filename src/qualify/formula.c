/* formula.c: text to steps of a stack machine; the machine on numbers and on hyper-dual numbers. */
#include "formula.h"
#include "inner.h"
#include "tripwright/qualify_table.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum {
  NUMBER,
  INPUT,
  ADD,
  SUBTRACT,
  TIMES,
  OVER,
  POWER,
  MINUS,
  SQRT,
  EXP,
  LOG,
  SIN,
  COS,
  TAN,
  ATAN,
  ABS
};

static const struct {
  const char *name;
  unsigned char what;
} functions[] = {{"sqrt", SQRT}, {"exp", EXP}, {"log", LOG},   {"sin", SIN},
                 {"cos", COS},   {"tan", TAN}, {"atan", ATAN}, {"abs", ABS}};

/* ---- reading: sum -> product -> power -> sign -> atom
 * -------------------------------------------- */

struct parser {
  const char *text, *at;
  const char *const *name;
  size_t names, height; /* of the stack so far */
  int nesting;
  tw_formula *out;
  char problem[120];
};

static bool sum(struct parser *p);

static bool refuse(struct parser *p, const char *problem)
{
  if (!p->problem[0]) {
    snprintf(p->problem, sizeof p->problem, "%s", problem);
  }
  return false;
}

static bool emit(struct parser *p, unsigned char what, unsigned char input, double number,
                 int grows)
{
  tw_formula *f = p->out;
  if (f->steps == TW_FORMULA_STEPS) {
    return refuse(p, "the formula is too long");
  }
  f->step[f->steps++] = (tw_step){what, input, number};
  p->height = (size_t)((int)p->height + grows);
  f->depth = p->height > f->depth ? p->height : f->depth;
  return f->depth <= TW_FORMULA_DEPTH || refuse(p, "the formula is nested too deeply");
}

static char next(struct parser *p)
{
  while (*p->at == ' ' || *p->at == '\t') {
    p->at++;
  }
  return *p->at;
}

static bool is_word(char c)
{
  return isalnum((unsigned char)c) || c == '_';
}

static bool number(struct parser *p)
{
  const char *end = p->at;
  while (isdigit((unsigned char)*end) || *end == '.') {
    end++;
  }
  if ((*end == 'e' || *end == 'E') &&
      (isdigit((unsigned char)end[1]) ||
       ((end[1] == '-' || end[1] == '+') && isdigit((unsigned char)end[2])))) {
    for (end += 2; isdigit((unsigned char)*end); end++) {
    }
  }
  double value;
  if (!tw_number_read(p->at, (size_t)(end - p->at), &value)) {
    return refuse(p, "not a number");
  }
  p->at = end;
  return emit(p, NUMBER, 0, value, 1);
}

static bool parenthesis(struct parser *p)
{
  if (++p->nesting > TW_FORMULA_DEPTH) {
    return refuse(p, "the formula is nested too deeply");
  }
  p->at++;
  if (!sum(p)) {
    return false;
  }
  if (next(p) != ')') {
    return refuse(p, "a ) is missing");
  }
  p->at++;
  p->nesting--;
  return true;
}

static bool word(struct parser *p)
{
  const char *start = p->at, *end = p->at;
  while (is_word(*end)) {
    end++;
  }
  const size_t length = (size_t)(end - start);
  p->at = end;
  if (next(p) == '(') {
    for (size_t i = 0; i < sizeof functions / sizeof functions[0]; i++) {
      if (strlen(functions[i].name) == length && memcmp(functions[i].name, start, length) == 0) {
        return parenthesis(p) && emit(p, functions[i].what, 0, 0.0, 0);
      }
    }
    p->at = start;
    return refuse(p, "not a function: sqrt exp log sin cos tan atan abs are known");
  }
  for (size_t i = 0; i < p->names; i++) {
    if (strlen(p->name[i]) == length && memcmp(p->name[i], start, length) == 0) {
      return emit(p, INPUT, (unsigned char)i, 0.0, 1);
    }
  }
  if (length == 2 && memcmp(start, "pi", 2) == 0) {
    return emit(p, NUMBER, 0, TW_PI, 1);
  }
  p->at = start;
  return refuse(p, "no input has this name");
}

static bool atom(struct parser *p)
{
  const char c = next(p);
  if (c == '(') {
    return parenthesis(p);
  }
  if (isdigit((unsigned char)c) || c == '.') {
    return number(p);
  }
  if (isalpha((unsigned char)c) || c == '_') {
    return word(p);
  }
  return refuse(p, c ? "an input, a number or ( should stand here" : "the formula ends too soon");
}

static bool sign(struct parser *p);

/* a^b^c is a^(b^c); the exponent may have a sign */
static bool power(struct parser *p)
{
  if (!atom(p)) {
    return false;
  }
  if (next(p) != '^') {
    return true;
  }
  p->at++;
  if (++p->nesting > TW_FORMULA_DEPTH) {
    return refuse(p, "the formula is nested too deeply");
  }
  const bool good = sign(p) && emit(p, POWER, 0, 0.0, -1);
  p->nesting--;
  return good;
}

/* -a^2 is -(a^2) */
static bool sign(struct parser *p)
{
  bool minus = false;
  for (char c = next(p); c == '-' || c == '+'; c = next(p)) {
    minus ^= c == '-';
    p->at++;
  }
  return power(p) && (!minus || emit(p, MINUS, 0, 0.0, 0));
}

static bool product(struct parser *p)
{
  if (!sign(p)) {
    return false;
  }
  for (char c = next(p); c == '*' || c == '/'; c = next(p)) {
    p->at++;
    if (!sign(p) || !emit(p, c == '*' ? TIMES : OVER, 0, 0.0, -1)) {
      return false;
    }
  }
  return true;
}

static bool sum(struct parser *p)
{
  if (!product(p)) {
    return false;
  }
  for (char c = next(p); c == '+' || c == '-'; c = next(p)) {
    p->at++;
    if (!product(p) || !emit(p, c == '+' ? ADD : SUBTRACT, 0, 0.0, -1)) {
      return false;
    }
  }
  return true;
}

tw_status tw_formula_read(const char *text, const char *const *name, size_t names, tw_formula *out,
                          size_t *column, tw_fault *fault)
{
  *out = (tw_formula){0};
  struct parser p = {.text = text, .at = text, .name = name, .names = names, .out = out};
  bool good = names < 256 && sum(&p);
  if (good && next(&p) != '\0') {
    good = refuse(&p, "an operator should stand here");
  }
  if (column) {
    *column = (size_t)(p.at - text) + 1;
  }
  if (good) {
    return TW_OK;
  }
  return tw_fail(fault, TW_BAD_INPUT, "model", "inputs, numbers, + - * / ^ ( ) and functions",
                 "at '%.20s': %s", p.at, p.problem);
}

/* ---- running ------------------------------------------------------------------------------------
 */

static double apply(unsigned char what, double a)
{
  switch (what) {
  case MINUS:
    return -a;
  case SQRT:
    return sqrt(a);
  case EXP:
    return exp(a);
  case LOG:
    return log(a);
  case SIN:
    return sin(a);
  case COS:
    return cos(a);
  case TAN:
    return tan(a);
  case ATAN:
    return atan(a);
  default:
    return fabs(a);
  }
}

/* 0^0 has no value: x^0 says 1, 0^x says 0 */
static double power_at(double a, double b)
{
  return a == 0.0 && b == 0.0 ? (double)NAN : pow(a, b);
}

static double combine(unsigned char what, double a, double b)
{
  switch (what) {
  case ADD:
    return a + b;
  case SUBTRACT:
    return a - b;
  case TIMES:
    return a * b;
  case OVER:
    return a / b;
  default:
    return power_at(a, b);
  }
}

double tw_formula_value(const tw_formula *formula, const double *x)
{
  double stack[TW_FORMULA_DEPTH + 1];
  size_t top = 0;
  for (size_t k = 0; k < formula->steps; k++) {
    const tw_step s = formula->step[k];
    if (s.what == NUMBER || s.what == INPUT) {
      stack[top++] = s.what == NUMBER ? s.number : x[s.input];
    } else if (s.what <= POWER) {
      top--;
      stack[top - 1] = combine(s.what, stack[top - 1], stack[top]);
    } else {
      stack[top - 1] = apply(s.what, stack[top - 1]);
    }
  }
  return stack[0];
}

/* g(a) with g', g'' at a: the chain rule to second order */
static tw_dual chain(tw_dual a, double g, double g1, double g2)
{
  return (tw_dual){g, g1 * a.i, g1 * a.j, g1 * a.ij + g2 * a.i * a.j};
}

static tw_dual product_of(tw_dual a, tw_dual b)
{
  return (tw_dual){a.f * b.f, a.i * b.f + a.f * b.i, a.j * b.f + a.f * b.j,
                   a.ij * b.f + a.i * b.j + a.j * b.i + a.f * b.ij};
}

static tw_dual apply_dual(unsigned char what, tw_dual a)
{
  const double f = apply(what, a.f), x = a.f;
  switch (what) {
  case MINUS:
    return chain(a, f, -1.0, 0.0);
  case SQRT:
    return chain(a, f, 0.5 / f, -0.25 / (f * x));
  case EXP:
    return chain(a, f, f, f);
  case LOG:
    return chain(a, f, 1.0 / x, -1.0 / (x * x));
  case SIN:
    return chain(a, f, cos(x), -f);
  case COS:
    return chain(a, f, -sin(x), -f);
  case TAN:
    return chain(a, f, 1.0 + f * f, 2.0 * f * (1.0 + f * f));
  case ATAN:
    return chain(a, f, 1.0 / (1.0 + x * x), -2.0 * x / ((1.0 + x * x) * (1.0 + x * x)));
  default:
    return chain(a, f, x < 0.0 ? -1.0 : 1.0, 0.0);
  }
}

static tw_dual power_of(tw_dual a, tw_dual b)
{
  if (b.i == 0.0 && b.j == 0.0 && b.ij == 0.0) {
    /* constant exponent: negative bases are fine for whole exponents */
    const double n = b.f, g1 = n == 0.0 ? 0.0 : n * pow(a.f, n - 1.0);
    const double g2 = n == 0.0 || n == 1.0 ? 0.0 : n * (n - 1.0) * pow(a.f, n - 2.0);
    return chain(a, power_at(a.f, n), g1, g2);
  }
  return apply_dual(EXP, product_of(b, apply_dual(LOG, a)));
}

static tw_dual combine_dual(unsigned char what, tw_dual a, tw_dual b)
{
  switch (what) {
  case ADD:
    return (tw_dual){a.f + b.f, a.i + b.i, a.j + b.j, a.ij + b.ij};
  case SUBTRACT:
    return (tw_dual){a.f - b.f, a.i - b.i, a.j - b.j, a.ij - b.ij};
  case TIMES:
    return product_of(a, b);
  case OVER:
    return product_of(a, chain(b, 1.0 / b.f, -1.0 / (b.f * b.f), 2.0 / (b.f * b.f * b.f)));
  default:
    return power_of(a, b);
  }
}

tw_dual tw_formula_dual(const tw_formula *formula, const double *x, size_t i, size_t j)
{
  tw_dual stack[TW_FORMULA_DEPTH + 1];
  size_t top = 0;
  for (size_t k = 0; k < formula->steps; k++) {
    const tw_step s = formula->step[k];
    if (s.what == NUMBER) {
      stack[top++] = (tw_dual){s.number, 0.0, 0.0, 0.0};
    } else if (s.what == INPUT) {
      stack[top++] = (tw_dual){x[s.input], s.input == i ? 1.0 : 0.0, s.input == j ? 1.0 : 0.0, 0.0};
    } else if (s.what <= POWER) {
      top--;
      stack[top - 1] = combine_dual(s.what, stack[top - 1], stack[top]);
    } else {
      stack[top - 1] = apply_dual(s.what, stack[top - 1]);
    }
  }
  return stack[0];
}

bool tw_formula_uses(const tw_formula *formula, size_t input)
{
  for (size_t k = 0; k < formula->steps; k++) {
    if (formula->step[k].what == INPUT && formula->step[k].input == input) {
      return true;
    }
  }
  return false;
}
