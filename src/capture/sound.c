/* sound.c: what is compressed or unusual, by libsndfile, from the same bytes. */
#include "stream.h"

#include <math.h>
#include <sndfile.h>
#include <string.h>

struct sound {
  tw_rows rows;
  tw_bytes *bytes;
  uint64_t at;
  SNDFILE *file;
  SF_INFO info;
};

static sf_count_t length_of(void *self)
{
  return (sf_count_t)((struct sound *)self)->bytes->size;
}

static sf_count_t seek(sf_count_t offset, int whence, void *self)
{
  struct sound *s = self;
  const sf_count_t size = (sf_count_t)s->bytes->size;
  sf_count_t to = whence == SEEK_SET   ? offset
                  : whence == SEEK_CUR ? (sf_count_t)s->at + offset
                                       : size + offset;
  to = to < 0 ? 0 : to > size ? size : to;
  if (tw_bytes_seek(s->bytes, (uint64_t)to)) {
    s->at = (uint64_t)to;
  }
  return (sf_count_t)s->at;
}

static sf_count_t take(void *out, sf_count_t count, void *self)
{
  struct sound *s = self;
  const size_t n = count > 0 ? tw_bytes_read(s->bytes, out, (size_t)count) : 0;
  s->at += n;
  return (sf_count_t)n;
}

static sf_count_t put(const void *from, sf_count_t count, void *self)
{
  (void)from;
  (void)count;
  (void)self;
  return 0;
}

static sf_count_t tell(void *self)
{
  return (sf_count_t)((struct sound *)self)->at;
}

static SF_VIRTUAL_IO way = {length_of, seek, take, put, tell};

static tw_status next(tw_rows *rows, double *out, size_t *count)
{
  struct sound *s = (struct sound *)rows;
  const sf_count_t n = sf_readf_double(s->file, out, TW_STREAM_BLOCK);
  *count = n > 0 ? (size_t)n : 0;
  if (n <= 0 && sf_error(s->file) != SF_ERR_NO_ERROR) {
    return tw_refuse(rows->messages, rows->name, 0, "export the recording again",
                     "the audio cannot be decoded: %.120s", sf_strerror(s->file));
  }
  for (size_t i = 0; i < *count * rows->channels; i++) {
    if (!isfinite(out[i])) {
      return tw_refuse(rows->messages, rows->name, 0, "export as 24 bit", "not a number in it");
    }
  }
  return TW_OK;
}

static void shut(struct sound *s)
{
  if (s->file) {
    sf_close(s->file);
    s->file = NULL;
  }
}

static tw_status start(struct sound *s)
{
  shut(s);
  s->at = 0;
  memset(&s->info, 0, sizeof s->info);
  if (!tw_bytes_seek(s->bytes, 0)) {
    return tw_refuse(s->rows.messages, s->rows.name, 0, "", "the file cannot be read twice");
  }
  s->file = sf_open_virtual(&way, SFM_READ, &s->info, s);
  if (!s->file) {
    return tw_refuse(s->rows.messages, s->rows.name, 0, "export as WAV, 16 or 24 bit",
                     "the audio cannot be decoded: %.120s", sf_strerror(NULL));
  }
  return TW_OK;
}

static tw_status again(tw_rows *rows)
{
  return start((struct sound *)rows);
}

static void close_sound(tw_rows *rows)
{
  shut((struct sound *)rows);
  tw_free(rows);
}

static tw_status fill_record(struct sound *s, tw_capture_record *record)
{
  if (s->info.channels < 1 || s->info.channels > TW_CAPTURE_CHANNELS || s->info.samplerate < 1) {
    return tw_refuse(s->rows.messages, s->rows.name, 0, "record one or two channels",
                     "%d channels at %d Hz; 1 to %d channels are read", s->info.channels,
                     s->info.samplerate, TW_CAPTURE_CHANNELS);
  }
  s->rows.channels = (size_t)s->info.channels;
  record->axis = TW_AXIS_TIME;
  record->interval = 1 / (double)s->info.samplerate;
  snprintf(record->found, sizeof record->found, "%d channel%s, %d Hz", s->info.channels,
           s->info.channels == 1 ? "" : "s", s->info.samplerate);
  for (int c = 0; c < s->info.channels; c++) {
    snprintf(record->channel[c].name, sizeof record->channel[c].name, "channel %d", c + 1);
    snprintf(record->channel[c].unit, sizeof record->channel[c].unit, "1");
  }
  return TW_OK;
}

tw_status tw_sound_open(tw_bytes *bytes, tw_messages *messages, tw_capture_record *record,
                        tw_rows **out)
{
  struct sound *s = tw_alloc(1, sizeof *s);
  *out = NULL;
  if (!s) {
    return TW_NO_MEMORY;
  }
  s->bytes = bytes;
  s->rows = (tw_rows){.again = again,
                      .next = next,
                      .close = close_sound,
                      .messages = messages,
                      .name = bytes->name};
  tw_status status = start(s);
  status = status == TW_OK ? fill_record(s, record) : status;
  if (status != TW_OK) {
    close_sound(&s->rows);
    return status;
  }
  *out = &s->rows;
  return TW_OK;
}
