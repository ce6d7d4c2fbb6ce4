/* Four floats at a time. These vectors are those of GCC and Clang, which compile them for
   processors with and without such registers. */
#ifndef VECTORS_H
#define VECTORS_H

#include <stdint.h>
#include <string.h>

#define INLINE static inline __attribute__((always_inline))

typedef float Four __attribute__((vector_size(16)));
typedef float Unaligned __attribute__((vector_size(16), aligned(4)));
typedef int32_t Mask __attribute__((vector_size(16)));

INLINE Four four(const float *at) { return *(const Unaligned *)at; }

#ifdef __SSE__
/* The selection below takes four instructions where these registers have one. */
#include <xmmintrin.h>
INLINE Four least(Four a, Four b) { return (Four)_mm_min_ps((__m128)a, (__m128)b); }
INLINE Four most(Four a, Four b) { return (Four)_mm_max_ps((__m128)a, (__m128)b); }
#else
INLINE Four least(Four a, Four b)
{
    Mask less = a < b;
    return (Four)(((Mask)a & less) | ((Mask)b & ~less));
}

INLINE Four most(Four a, Four b)
{
    Mask more = a > b;
    return (Four)(((Mask)a & more) | ((Mask)b & ~more));
}
#endif

#endif
