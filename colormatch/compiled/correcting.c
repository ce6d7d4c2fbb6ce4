/* Codes of a scan to linear light of the output, and light times a coarse grid.

   What the functions do, and how their results are used, is said in correcting.py.
*/
#include <stddef.h>

#include "vectors.h"

/* How rows and columns of a window lie between those of a grid. */
typedef struct {
    ptrdiff_t rows, columns;
    const int32_t *above; /* a grid row for each row, the next one lies below it */
    const float *down;    /* how far towards that, 0 to 1 */
    const int32_t *left;  /* the same for columns */
    const float *across;
    const float *grid; /* rows of groups of four, of which grid_columns are needed */
    ptrdiff_t grid_columns, floats_per_row;
    float *between; /* room for as many groups as are needed */
} Spread;

/* The grid's row at a row of the window. */
INLINE void mix_row(const Spread *spread, ptrdiff_t row)
{
    const float *above = spread->grid + spread->above[row] * spread->floats_per_row;
    const float *below = above + spread->floats_per_row;
    float share = spread->down[row];
    for (ptrdiff_t k = 0; k < spread->grid_columns * 4; k++)
        spread->between[k] = above[k] + share * (below[k] - above[k]);
}

/* The grid's four values at a pixel of that row. */
INLINE Four at_column(const Spread *spread, ptrdiff_t column)
{
    const float *left = spread->between + 4 * (ptrdiff_t)spread->left[column];
    return four(left) + spread->across[column] * (four(left + 4) - four(left));
}

/* The grid holds light to take away, red, green and blue, and what to multiply the rest by. */
INLINE void pixel_light(Four known, const float *decoded[3], const Four matrix[3], float *out)
{
    Four sum = {0};
    for (int c = 0; c < 3; c++)
        sum += (*decoded[c] - known[c]) * known[3] * matrix[c];
    memcpy(out, &sum, 3 * sizeof(float));
}

#define CORRECT(name, Code)                                                                      \
    void name(const Spread *spread, const Code *codes, const float *decode,                      \
              const float *columns_of_matrix, float *out)                                        \
    {                                                                                            \
        Four matrix[3];                                                                          \
        for (int c = 0; c < 3; c++)                                                              \
            matrix[c] = four(columns_of_matrix + 4 * c);                                         \
        for (ptrdiff_t row = 0; row < spread->rows; row++) {                                     \
            mix_row(spread, row);                                                                \
            for (ptrdiff_t column = 0; column < spread->columns; column++, codes += 3, out += 3) { \
                const float *decoded[3];                                                         \
                for (int c = 0; c < 3; c++)                                                      \
                    decoded[c] = decode + 3 * (ptrdiff_t)codes[c] + c;                           \
                pixel_light(at_column(spread, column), decoded, matrix, out);                    \
            }                                                                                    \
        }                                                                                        \
    }

CORRECT(correct_8, uint8_t)
CORRECT(correct_16, uint16_t)

/* Multiply light by a grid whose fourth value is not used. */
void multiply_spread(const Spread *spread, float *light)
{
    for (ptrdiff_t row = 0; row < spread->rows; row++) {
        mix_row(spread, row);
        for (ptrdiff_t column = 0; column < spread->columns; column++, light += 3) {
            Four gain = at_column(spread, column);
            for (int c = 0; c < 3; c++)
                light[c] *= gain[c];
        }
    }
}
