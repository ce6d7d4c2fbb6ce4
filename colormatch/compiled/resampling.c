/* Light of a scan at places between its pixels: Lanczos over 8 x 8 samples, and a bound.

   What the functions do, and how their results are used, is said in resampling.py.
*/
#include <stddef.h>

#include "vectors.h"

#define TAPS 8
#define BEFORE 3 /* samples before the one at or left of a place */
#define SUBPIXEL_BITS 5
#define SUBPIXELS (1 << SUBPIXEL_BITS)

/* A call's constants. */
typedef struct {
    const float *light;
    int height, width;
    int row, column;       /* of the window's first pixel in the scan */
    const float *down;     /* weights by 1/32 pixel, TAPS each */
    const float *across;   /* the same, each as often as there are channels */
    float overshoot, undershoot;
} Window;

INLINE float lesser(float a, float b) { return a < b ? a : b; }
INLINE float greater(float a, float b) { return a > b ? a : b; }

/* Keep a value near the range of the samples around it. */
INLINE float limited(float value, float low, float high, const Window *in)
{
    float beyond = in->overshoot * (high - low);
    float floor = greater(low - beyond, (1 - in->undershoot) * low);
    return greater(lesser(value, high + beyond), floor);
}

/* Three channels: a row of TAPS pixels is 24 floats, six vectors. */
INLINE void colour_at(
    const float *corner, ptrdiff_t stride, const float *across, const float *down,
    const Window *in, float *out)
{
    Four sum[6] = {{0}};
    Four low[3], high[3];
    for (int j = 0; j < TAPS; j++) {
        const float *row = corner + j * stride;
        for (int part = 0; part < 6; part++)
            sum[part] += down[j] * four(row + 4 * part);
    }
    /* The 4 x 4 pixels around the place are 12 floats of 4 rows. */
    for (int part = 0; part < 3; part++) {
        const float *near = corner + 2 * stride + 2 * 3 + 4 * part;
        low[part] = high[part] = four(near);
        for (int j = 1; j < 4; j++) {
            low[part] = least(low[part], four(near + j * stride));
            high[part] = most(high[part], four(near + j * stride));
        }
    }
    float s[24], l[12], h[12];
    for (int part = 0; part < 6; part++)
        sum[part] *= four(across + 4 * part);
    memcpy(s, sum, sizeof s);
    memcpy(l, low, sizeof l);
    memcpy(h, high, sizeof h);
    for (int c = 0; c < 3; c++) {
        float value = ((s[c] + s[c + 3]) + (s[c + 6] + s[c + 9]))
            + ((s[c + 12] + s[c + 15]) + (s[c + 18] + s[c + 21]));
        float lowest = lesser(lesser(l[c], l[c + 3]), lesser(l[c + 6], l[c + 9]));
        float highest = greater(greater(h[c], h[c + 3]), greater(h[c + 6], h[c + 9]));
        out[c] = limited(value, lowest, highest, in);
    }
}

/* One channel: two vectors, and one of the four pixels around the place. */
INLINE void grey_at(
    const float *corner, ptrdiff_t stride, const float *across, const float *down,
    const Window *in, float *out)
{
    Four sum[2] = {{0}};
    for (int j = 0; j < TAPS; j++)
        for (int part = 0; part < 2; part++)
            sum[part] += down[j] * four(corner + j * stride + 4 * part);
    Four low = four(corner + 2 * stride + 2), high = low;
    for (int j = 3; j < 6; j++) {
        low = least(low, four(corner + j * stride + 2));
        high = most(high, four(corner + j * stride + 2));
    }
    Four s = sum[0] * four(across) + sum[1] * four(across + 4);
    float lowest = lesser(lesser(low[0], low[1]), lesser(low[2], low[3]));
    float highest = greater(greater(high[0], high[1]), greater(high[2], high[3]));
    *out = limited((s[0] + s[1]) + (s[2] + s[3]), lowest, highest, in);
}

INLINE int held(int at, int count) { return at < 0 ? 0 : at < count ? at : count - 1; }

/* The pixel at a row and column of the window, its edge held beyond. */
INLINE const float *pixel(const Window *in, int channels, int row, int column)
{
    ptrdiff_t place = (ptrdiff_t)held(row, in->height) * in->width + held(column, in->width);
    return in->light + place * channels;
}

INLINE void at_place(const Window *in, int channels, int32_t x, int32_t y, float *out)
{
    int left = (x >> SUBPIXEL_BITS) - in->column - BEFORE;
    int top = (y >> SUBPIXEL_BITS) - in->row - BEFORE;
    int right_by = x & (SUBPIXELS - 1), down_by = y & (SUBPIXELS - 1);
    if (!right_by && !down_by) {
        memcpy(out, pixel(in, channels, top + BEFORE, left + BEFORE), channels * sizeof(float));
        return;
    }
    const float *down = in->down + down_by * TAPS;
    const float *across = in->across + right_by * TAPS * channels;
    ptrdiff_t stride = (ptrdiff_t)in->width * channels;
    const float *corner;
    float edge[TAPS * TAPS * 3];
    if (left >= 0 && top >= 0 && left + TAPS <= in->width && top + TAPS <= in->height) {
        corner = in->light + top * stride + (ptrdiff_t)left * channels;
    } else {
        for (int j = 0; j < TAPS; j++)
            for (int k = 0; k < TAPS; k++)
                memcpy(edge + (j * TAPS + k) * channels,
                       pixel(in, channels, top + j, left + k), channels * sizeof(float));
        corner = edge;
        stride = TAPS * channels;
    }
    if (channels == 3)
        colour_at(corner, stride, across, down, in, out);
    else
        grey_at(corner, stride, across, down, in, out);
}

void resample_colour(
    const Window *in, const int32_t *x, const int32_t *y, ptrdiff_t count, float *out)
{
    for (ptrdiff_t n = 0; n < count; n++)
        at_place(in, 3, x[n], y[n], out + 3 * n);
}

void resample_grey(
    const Window *in, const int32_t *x, const int32_t *y, ptrdiff_t count, float *out)
{
    for (ptrdiff_t n = 0; n < count; n++)
        at_place(in, 1, x[n], y[n], out + n);
}

/* The name that the linkers of some systems look for in what Python's tools build. */
void *PyInit__loops(void) { return NULL; }
