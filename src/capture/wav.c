/* wav.c: plain PCM (16, 24, 32 bit) and float WAV, little-endian RIFF chunks (Microsoft and IBM,
 * Multimedia Programming Interface and Data Specifications 1.0, August 1991, from memory). Anything
 * else in a WAV goes to the library. Full scale is 1.0. */
#include "stream.h"

#include <math.h>
#include <string.h>

#define TAG_PCM        1
#define TAG_FLOAT      3
#define TAG_EXTENSIBLE 0xFFFE
#define FMT_MOST       64
#define CHUNKS_MOST    1000
#define BLOCK_BYTES    (TW_STREAM_BLOCK * TW_CAPTURE_CHANNELS * 8)

struct wav {
  tw_rows rows;
  tw_bytes *bytes;
  unsigned tag, channels, bits, frame;
  double rate;
  uint64_t data_at, data_size, left;
  unsigned char block[BLOCK_BYTES];
};

static uint32_t u32(const unsigned char *p)
{
  return (uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
}

static unsigned u16(const unsigned char *p)
{
  return (unsigned)p[0] | (unsigned)p[1] << 8;
}

static tw_status refuse(const struct wav *w, const char *hint, const char *text)
{
  return tw_refuse(w->rows.messages, w->rows.name, 0, hint, "%s", text);
}

static tw_status read_format(struct wav *w, uint32_t size)
{
  unsigned char fmt[FMT_MOST];
  const size_t n = size < FMT_MOST ? size : FMT_MOST;
  if (size < 16 || tw_bytes_read(w->bytes, fmt, n) != n) {
    return refuse(w, "export the recording again", "the WAV header is cut: its format is missing");
  }
  w->tag = u16(fmt);
  w->channels = u16(fmt + 2);
  w->rate = u32(fmt + 4);
  w->frame = u16(fmt + 12);
  w->bits = u16(fmt + 14);
  if (w->tag == TAG_EXTENSIBLE && n >= 26) {
    w->tag = u16(fmt + 24);
  }
  return TW_OK;
}

/* walk the chunks up to the data */
static tw_status find_data(struct wav *w)
{
  unsigned char head[12];
  uint64_t at = 12;
  if (tw_bytes_read(w->bytes, head, 12) != 12 || memcmp(head + 8, "WAVE", 4) != 0) {
    return refuse(w, "export the recording again", "the WAV header is cut, or it is no WAV");
  }
  for (int k = 0; k < CHUNKS_MOST; k++) {
    if (!tw_bytes_seek(w->bytes, at) || tw_bytes_read(w->bytes, head, 8) != 8) {
      break;
    }
    const uint32_t size = u32(head + 4);
    if (memcmp(head, "data", 4) == 0) {
      w->data_at = at + 8;
      w->data_size = size;
      return TW_OK;
    }
    if (memcmp(head, "fmt ", 4) == 0) {
      const tw_status status = read_format(w, size);
      if (status != TW_OK) {
        return status;
      }
    }
    at += 8 + (uint64_t)size + (size & 1);
  }
  return refuse(w, "export the recording again", "the WAV file is cut: it has no data chunk");
}

static bool is_plain(const struct wav *w)
{
  return (w->tag == TAG_PCM && (w->bits == 16 || w->bits == 24 || w->bits == 32)) ||
         (w->tag == TAG_FLOAT && (w->bits == 32 || w->bits == 64));
}

static tw_status check(const struct wav *w)
{
  const uint64_t here = w->bytes->size - w->data_at;
  if (w->channels == 0 || w->channels > TW_CAPTURE_CHANNELS) {
    return tw_refuse(w->rows.messages, w->rows.name, 0, "record one or two channels",
                     "%u channels in the WAV header; 1 to %d are read", w->channels,
                     TW_CAPTURE_CHANNELS);
  }
  if (w->frame != w->channels * w->bits / 8 || w->rate < 1) {
    return tw_refuse(w->rows.messages, w->rows.name, 0, "export the recording again",
                     "the WAV header contradicts itself: %u channels of %u bit in frames of %u "
                     "bytes at %g Hz",
                     w->channels, w->bits, w->frame, w->rate);
  }
  if (w->data_size > here) {
    return tw_refuse(w->rows.messages, w->rows.name, 0,
                     "the recorder was stopped before it finished the file: open and save it in an "
                     "audio editor, or record again",
                     "the WAV file is cut: %llu bytes of data are promised, %llu are there",
                     (unsigned long long)w->data_size, (unsigned long long)here);
  }
  if (w->data_size < w->frame) {
    return refuse(w, "record again", "the WAV file holds no samples");
  }
  return TW_OK;
}

/* 24 bit: into the upper bytes, so that the sign comes along */
static double sample(const struct wav *w, const unsigned char *p)
{
  if (w->bits == 16) {
    return (double)(int16_t)u16(p) / 0x1p15;
  }
  if (w->bits == 24) {
    const uint32_t up = (uint32_t)p[0] << 8 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 24;
    return (double)(int32_t)up / 0x1p31;
  }
  if (w->tag == TAG_PCM) {
    return (double)(int32_t)u32(p) / 0x1p31;
  }
  if (w->bits == 32) {
    const uint32_t bits = u32(p);
    float value;
    memcpy(&value, &bits, sizeof value);
    return (double)value;
  }
  const uint64_t bits = (uint64_t)u32(p) | (uint64_t)u32(p + 4) << 32;
  double value;
  memcpy(&value, &bits, sizeof value);
  return value;
}

static tw_status next(tw_rows *rows, double *out, size_t *count)
{
  struct wav *w = (struct wav *)rows;
  const uint64_t frames = w->left / w->frame;
  const size_t want = frames < TW_STREAM_BLOCK ? (size_t)frames : TW_STREAM_BLOCK;
  const unsigned wide = w->bits / 8;
  *count = 0;
  if (tw_bytes_read(w->bytes, w->block, want * w->frame) != want * w->frame) {
    return refuse(w, "", "the file could not be read to its end");
  }
  for (size_t i = 0; i < want * w->channels; i++) {
    out[i] = sample(w, w->block + i * wide);
    if (!isfinite(out[i])) {
      return tw_refuse(rows->messages, rows->name, 0, "export as 24 bit",
                       "not a number in a float WAV, at frame %llu",
                       (unsigned long long)((w->data_size - w->left) / w->frame + i / w->channels));
    }
  }
  w->left -= (uint64_t)want * w->frame;
  *count = want;
  return TW_OK;
}

static tw_status again(tw_rows *rows)
{
  struct wav *w = (struct wav *)rows;
  w->left = w->data_size;
  return tw_bytes_seek(w->bytes, w->data_at) ? TW_OK
                                             : refuse(w, "", "the file cannot be read twice");
}

static void close_wav(tw_rows *rows)
{
  tw_free(rows);
}

static void fill_record(const struct wav *w, tw_capture_record *record)
{
  record->axis = TW_AXIS_TIME;
  record->interval = 1 / w->rate;
  snprintf(record->found, sizeof record->found, "%u channel%s, %u bit %s, %g Hz", w->channels,
           w->channels == 1 ? "" : "s", w->bits, w->tag == TAG_FLOAT ? "float" : "PCM", w->rate);
  for (unsigned c = 0; c < w->channels; c++) {
    snprintf(record->channel[c].name, sizeof record->channel[c].name, "channel %u", c + 1);
    snprintf(record->channel[c].unit, sizeof record->channel[c].unit, "1");
  }
}

tw_status tw_wav_open(tw_bytes *bytes, tw_messages *messages, tw_capture_record *record,
                      tw_rows **out)
{
  struct wav *w = tw_alloc(1, sizeof *w);
  *out = NULL;
  if (!w) {
    return TW_NO_MEMORY;
  }
  w->bytes = bytes;
  w->rows = (tw_rows){
      .again = again, .next = next, .close = close_wav, .messages = messages, .name = bytes->name};
  tw_status status = find_data(w);
  if (status == TW_OK && w->bits > 0 && !is_plain(w)) {
    tw_free(w);
    return tw_bytes_seek(bytes, 0) ? tw_sound_open(bytes, messages, record, out) : TW_BAD_INPUT;
  }
  status = status == TW_OK && w->bits == 0
               ? refuse(w, "export the recording again", "the WAV header is cut: no format")
               : status;
  status = status == TW_OK ? check(w) : status;
  if (status != TW_OK) {
    tw_free(w);
    return status;
  }
  w->rows.channels = w->channels;
  fill_record(w, record);
  *out = &w->rows;
  return TW_OK;
}
