/* Light of a scan at places between its pixels: Lanczos over 8 x 8 samples, and a bound.

   Neighbours along a line of the canvas often lie in the same row of the scan, to a 32nd
   of a pixel. What such a run shares is done once: the sums down the columns it takes in,
   and the least and the most of those columns. What the functions do, and how their
   results are used, is said in resampling.py.
*/
#include <stddef.h>

#include "vectors.h"

#define TAPS 8
#define BEFORE 3 /* samples before the one at or left of a place */
#define NEAR 2   /* of these, the first of the four that bound it */
#define SUBPIXEL_BITS 5
#define SUBPIXELS (1 << SUBPIXEL_BITS)
#define LONGEST 24 /* columns that the places of a run may differ by */
#define ROOM (3 * (LONGEST + TAPS) + 4)

/* A call's constants. */
typedef struct {
    const float *light;
    int height, width, channels;
    int row, column;     /* of the window's first pixel in the scan */
    const float *weights; /* by 1/32 pixel, TAPS each */
    float overshoot, undershoot;
} Window;

/* What the columns of a run come to: weighted, least and most. */
typedef struct {
    float sum[ROOM], low[ROOM], high[ROOM];
} Columns;

INLINE int floor_of(int32_t place) { return place >> SUBPIXEL_BITS; }
INLINE int part_of(int32_t place) { return place & (SUBPIXELS - 1); }
INLINE int held(int at, int count) { return at < 0 ? 0 : at < count ? at : count - 1; }

/* Four floats at once of TAPS rows. */
INLINE void sum_down(const float *from, ptrdiff_t stride, const float *down, Columns *into, int at)
{
    Four sum = down[0] * four(from);
    for (int j = 1; j < TAPS; j++)
        sum += down[j] * four(from + j * stride);
    Four low = four(from + NEAR * stride), high = low;
    for (int j = NEAR + 1; j < NEAR + 4; j++) {
        low = least(low, four(from + j * stride));
        high = most(high, four(from + j * stride));
    }
    memcpy(into->sum + at, &sum, sizeof sum);
    memcpy(into->low + at, &low, sizeof low);
    memcpy(into->high + at, &high, sizeof high);
}

/* All floats of a run's columns; the last four may overlap those before. */
INLINE void sum_columns(
    const float *from, ptrdiff_t stride, const float *down, int floats, Columns *into)
{
    for (int k = 0; k + 4 < floats; k += 4)
        sum_down(from + k, stride, down, into, k);
    sum_down(from + floats - 4, stride, down, into, floats - 4);
}

/* Keep values near the range of the samples around them. */
INLINE Four limited(Four value, Four low, Four high, const Window *in)
{
    Four beyond = in->overshoot * (high - low);
    Four floor = most(low - beyond, (1 - in->undershoot) * low);
    return most(least(value, high + beyond), floor);
}

/* Three channels, one place: the fourth lane is worked out and not used. */
INLINE void colour_of(
    const Columns *columns, int at, const float *across, const Window *in, float *out)
{
    const float *s = columns->sum + 3 * at;
    Four even = across[0] * four(s), odd = across[1] * four(s + 3);
    for (int k = 2; k < TAPS; k += 2) {
        even += across[k] * four(s + 3 * k);
        odd += across[k + 1] * four(s + 3 * k + 3);
    }
    const float *l = columns->low + 3 * (at + NEAR), *h = columns->high + 3 * (at + NEAR);
    Four low = least(least(four(l), four(l + 3)), least(four(l + 6), four(l + 9)));
    Four high = most(most(four(h), four(h + 3)), most(four(h + 6), four(h + 9)));
    Four value = limited(even + odd, low, high, in);
    memcpy(out, &value, 3 * sizeof(float));
}

/* One channel, one place: all lanes of what is limited are the same. */
INLINE void grey_of(
    const Columns *columns, int at, const float *across, const Window *in, float *out)
{
    const float *l = columns->low + at + NEAR, *h = columns->high + at + NEAR;
    const float *sums = columns->sum + at;
    Four s = four(sums) * four(across) + four(sums + 4) * four(across + 4);
    float sum = (s[0] + s[1]) + (s[2] + s[3]);
    float low = l[0], high = h[0];
    for (int k = 1; k < 4; k++) {
        low = l[k] < low ? l[k] : low;
        high = h[k] > high ? h[k] : high;
    }
    Four none = {0};
    *out = limited(sum + none, low + none, high + none, in)[0];
}

/* Lines of places along which they are `along` apart in their arrays. */
typedef struct {
    const int32_t *x, *y;
    float *out;
    ptrdiff_t along;
} Line;

/* A run begins with a line's place `first`; where does it end, and which columns does it span? */
INLINE ptrdiff_t run_end(const Line *line, ptrdiff_t first, ptrdiff_t count, int *left, int *right)
{
    int32_t y = line->y[first * line->along];
    *left = *right = floor_of(line->x[first * line->along]);
    ptrdiff_t n = first + 1;
    for (; n < count && line->y[n * line->along] == y; n++) {
        int column = floor_of(line->x[n * line->along]);
        int low = column < *left ? column : *left, high = column > *right ? column : *right;
        if (high - low > LONGEST)
            break;
        *left = low;
        *right = high;
    }
    return n;
}

/* Copy the 8 x 8 samples around a place whose window sticks out, its edge held. */
INLINE void copy_held(const Window *in, int top, int left, float *into)
{
    for (int j = 0; j < TAPS; j++)
        for (int k = 0; k < TAPS; k++) {
            ptrdiff_t from = (ptrdiff_t)held(top + j, in->height) * in->width
                + held(left + k, in->width);
            memcpy(into + (j * TAPS + k) * in->channels, in->light + from * in->channels,
                   in->channels * sizeof(float));
        }
}

INLINE void one_line(const Window *in, int channels, const Line *line, ptrdiff_t count)
{
    Columns columns = {{0}, {0}, {0}};
    float edge[TAPS * TAPS * 3];
    for (ptrdiff_t n = 0, end; n < count; n = end) {
        int left, right;
        end = run_end(line, n, count, &left, &right);
        int32_t y = line->y[n * line->along];
        int top = floor_of(y) - in->row - BEFORE;
        left -= in->column + BEFORE;
        right -= in->column + BEFORE;
        ptrdiff_t stride = (ptrdiff_t)in->width * channels;
        const float *from = in->light + held(top, in->height) * stride;
        if (top >= 0 && left >= 0 && top + TAPS <= in->height && right + TAPS <= in->width) {
            from += (ptrdiff_t)left * channels;
        } else {
            end = n + 1;
            left = right = floor_of(line->x[n * line->along]) - in->column - BEFORE;
            copy_held(in, top, left, edge);
            from = edge;
            stride = TAPS * channels;
        }
        sum_columns(from, stride, in->weights + part_of(y) * TAPS, (right - left + TAPS) * channels,
                    &columns);
        for (ptrdiff_t m = n; m < end; m++) {
            int32_t x = line->x[m * line->along];
            float *out = line->out + m * line->along * channels;
            int at = floor_of(x) - in->column - BEFORE - left;
            if (!part_of(x) && !part_of(y)) {
                memcpy(out, from + BEFORE * stride + (at + BEFORE) * channels,
                       channels * sizeof(float));
                continue;
            }
            const float *across = in->weights + part_of(x) * TAPS;
            if (channels == 3)
                colour_of(&columns, at, across, in, out);
            else
                grey_of(&columns, at, across, in, out);
        }
    }
}

/* Places in `lines` lines of `count`, next to one another `along` and `aside` apart. */
void resample(
    const Window *in, const int32_t *x, const int32_t *y, const ptrdiff_t shape[4], float *out)
{
    ptrdiff_t lines = shape[0], count = shape[1], aside = shape[2], along = shape[3];
    for (ptrdiff_t k = 0; k < lines; k++) {
        Line line = {x + k * aside, y + k * aside, out + k * aside * in->channels, along};
        if (in->channels == 3)
            one_line(in, 3, &line, count);
        else
            one_line(in, 1, &line, count);
    }
}

/* Raised whenever a function here or in another of these files is called differently. */
const int loops_version = 2;

/* The name that the linkers of some systems look for in what Python's tools build. */
void *PyInit__loops(void) { return NULL; }
