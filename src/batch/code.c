/* code.c: a two-dimensional code as SVG. */
#include "tripwright/batch_build.h"
#include "tripwright/text.h"

#include <errno.h>
#include <qrencode.h>

/* modules of quiet zone on each side (ISO/IEC 18004) */
enum { QUIET = 4 };

tw_status tw_code_svg(const char *text, double mm, char **svg, tw_fault *fault)
{
  *svg = NULL;
  QRcode *code = QRcode_encodeString(text, 0, QR_ECLEVEL_Q, QR_MODE_8, 1);
  if (!code) {
    return errno == ENOMEM ? tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for a code")
                           : tw_fail(fault, TW_BAD_INPUT, NULL, "shorten it",
                                     "the text is too long for a code");
  }
  const int width = code->width, all = width + 2 * QUIET;
  tw_text out = {0};
  tw_text_add(&out,
              "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"code\" width=\"%gmm\" "
              "height=\"%gmm\" viewBox=\"0 0 %d %d\" shape-rendering=\"crispEdges\">"
              "<rect width=\"%d\" height=\"%d\" fill=\"#fff\"/><path d=\"",
              mm, mm, all, all, all, all);
  for (int y = 0; y < width; y++) {
    for (int x = 0; x < width; x++) {
      if (code->data[y * width + x] & 1) {
        tw_text_add(&out, "M%d %dh1v1h-1z", x + QUIET, y + QUIET);
      }
    }
  }
  tw_text_put(&out, "\"/></svg>");
  QRcode_free(code);
  *svg = tw_text_take(&out);
  return *svg ? TW_OK : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for a code");
}
