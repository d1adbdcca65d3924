/* The two-dimensional code of the build sheet, read back by zbarimg: the SVG's own squares are put
 * into a picture. Skipped where zbarimg is not installed. */
#include "near.h"
#include "tripwright/batch_build.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MODULE = 6, MOST = 80 };

/* the squares "Mx yh1v1h-1z" of the path into a portable grey map */
static void draw(const char *svg, const char *path)
{
  static unsigned char dark[MOST][MOST];
  int all = 0, x, y;
  assert_int_equal(sscanf(strstr(svg, "viewBox"), "viewBox=\"0 0 %d", &all), 1);
  assert_true(all > 20 && all < MOST);
  memset(dark, 0, sizeof dark);
  for (const char *at = strstr(svg, " d=\"") + 4; sscanf(at, "M%d %dh1v1h-1z", &x, &y) == 2;) {
    dark[y][x] = 1;
    at = strchr(at, 'z') + 1;
  }
  FILE *f = fopen(path, "wb");
  assert_non_null(f);
  fprintf(f, "P5\n%d %d\n255\n", all * MODULE, all * MODULE);
  for (int row = 0; row < all * MODULE; row++) {
    for (int column = 0; column < all * MODULE; column++) {
      fputc(dark[row / MODULE][column / MODULE] ? 0 : 255, f);
    }
  }
  fclose(f);
}

static void read_back(void **state)
{
  (void)state;
  static const char *const texts[] = {"TW1 U=007 R=3 D=9F31C2A4E0B7 S=2 P=1",
                                      "TW1 U=a.b-c_9 R=- D=000000000000 S=2 P=2"};
  if (system("zbarimg --version >/dev/null 2>&1") != 0) {
    skip();
  }
  for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
    const char *picture = TW_BINARY_DIR "/test_batch_code.pgm";
    char *svg, line[200] = "";
    assert_int_equal(tw_code_svg(texts[i], 22, &svg, NULL), TW_OK);
    draw(svg, picture);
    tw_free(svg);
    FILE *zbar = popen("zbarimg --quiet --raw " TW_BINARY_DIR "/test_batch_code.pgm", "r");
    assert_non_null(zbar);
    assert_non_null(fgets(line, sizeof line, zbar));
    assert_int_equal(pclose(zbar), 0);
    line[strcspn(line, "\n")] = '\0';
    assert_string_equal(line, texts[i]);
    remove(picture);
  }
}

static void too_long(void **state)
{
  (void)state;
  char *text = malloc(5000), *svg = NULL;
  memset(text, 'x', 4999);
  text[4999] = '\0';
  tw_fault fault = {0};
  assert_int_equal(tw_code_svg(text, 22, &svg, &fault), TW_BAD_INPUT);
  assert_null(svg);
  free(text);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(read_back), cmocka_unit_test(too_long)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
