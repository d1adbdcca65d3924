/* Any bytes as a recording (zip): read, or refused with a message that has a cure; what was read is
 * finite, in order, and within its own limits; and whatever act is asked of it, no result holds a
 * number that is none. */
#include "fuzz_capture.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  try_recording(data, size);
  return 0;
}
