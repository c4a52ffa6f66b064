#include "dsp/row_sums.h"

#include <cstring>

namespace landfall {

namespace {

// The plain loops below are compiled twice, for the baseline and for 256-bit registers where the processor has them.
// Neither fuses or reorders an addition, so both give the same bits.
#if defined(__x86_64__)
#define LANDFALL_TARGET_WIDE [[gnu::target("avx2")]]
const bool hasWideRegisters = __builtin_cpu_supports("avx2") != 0;
#else
#define LANDFALL_TARGET_WIDE
constexpr bool hasWideRegisters = false;
#endif

typedef float Four [[gnu::vector_size(16)]];
typedef float Eight [[gnu::vector_size(32)]];

// Rows start anywhere: a register is filled and emptied by memcpy, which asks for no alignment.
template <typename Register>
[[gnu::always_inline]] inline void load(Register& into, const float* from) noexcept {
    std::memcpy(&into, from, sizeof into);
}
template <typename Register>
[[gnu::always_inline]] inline void store(const Register& from, float* into) noexcept {
    std::memcpy(into, &from, sizeof from);
}
template <typename Register>
[[gnu::always_inline]] inline void addScaled(float factor, const Register& x, float* sum) noexcept {
    Register total;
    load(total, sum);
    total += factor * x;
    store(total, sum);
}
template <typename Register>
[[gnu::always_inline]] inline void addRows(const float* a, const float* b, const float* c, const float* d,
                                           const Four& by, float* sum) noexcept {
    Register total, x, y, z, w;
    load(total, sum);
    load(x, a), load(y, b), load(z, c), load(w, d);
    total += (by[0] * x + by[1] * y) + (by[2] * z + by[3] * w);
    store(total, sum);
}

// gram += rows' rows, upper triangle. Four rows at a time keep the sums in reach.
template <std::size_t width>
[[gnu::always_inline]] inline void addGramBy(const float* rows, std::size_t count, std::size_t columns,
                                             float* gram) noexcept {
    std::size_t n = 0;
    for (; n + 4 <= count; n += 4) {
        const float* __restrict a = rows + n * columns;
        const float* __restrict b = a + columns;
        const float* __restrict c = b + columns;
        const float* __restrict d = c + columns;
        for (std::size_t i = 0; i < columns; ++i) {
            const Four by{a[i], b[i], c[i], d[i]};
            float* __restrict sum = gram + i * columns;
            std::size_t j = i / lanes * lanes;
            for (; width > lanes && j + width <= columns; j += width)
                addRows<Eight>(a + j, b + j, c + j, d + j, by, sum + j);
            for (; j < columns; j += lanes) addRows<Four>(a + j, b + j, c + j, d + j, by, sum + j);
        }
    }
    for (; n < count; ++n) {
        const float* __restrict a = rows + n * columns;
        for (std::size_t i = 0; i < columns; ++i)
            for (std::size_t j = i; j < columns; ++j) gram[i * columns + j] += a[i] * a[j];
    }
}

template <std::size_t width>
[[gnu::always_inline]] inline void addDerivativesBy(const float* rows, const float* times, std::size_t count,
                                                    std::size_t columns, const Derivatives& by,
                                                    DerivativeSums& sums) noexcept {
    float* __restrict byPitch = sums.part[0].data();
    float* __restrict bySlope = sums.part[1].data();
    float* __restrict byStiffness = sums.part[2].data();
    for (std::size_t n = 0; n < count; ++n) {
        const float* __restrict row = rows + n * columns;
        Four us{}, vs{};
        for (std::size_t k = 0; k < columns; k += lanes) {
            Four x, weightU, weightV;
            load(x, row + k), load(weightU, by.weightU.data() + k), load(weightV, by.weightV.data() + k);
            us += weightU * x;
            vs += weightV * x;
        }
        const float u = (us[0] + us[1]) + (us[2] + us[3]), v = (vs[0] + vs[1]) + (vs[2] + vs[3]);
        const float t = times[n];
        const float d0 = t * u, d1 = t * t * u, d2 = (t + by.glide * t * t) * v;
        std::size_t k = 0;
        for (; width > lanes && k + width <= columns; k += width) {
            Eight x;
            load(x, row + k);
            addScaled(d0, x, byPitch + k), addScaled(d1, x, bySlope + k), addScaled(d2, x, byStiffness + k);
        }
        for (; k < columns; k += lanes) {
            Four x;
            load(x, row + k);
            addScaled(d0, x, byPitch + k), addScaled(d1, x, bySlope + k), addScaled(d2, x, byStiffness + k);
        }
        sums.square[0] += d0 * d0;
        sums.square[1] += d0 * d1;
        sums.square[2] += d0 * d2;
        sums.square[3] += d1 * d1;
        sums.square[4] += d1 * d2;
        sums.square[5] += d2 * d2;
    }
}

LANDFALL_TARGET_WIDE void addGramWide(const float* rows, std::size_t count, std::size_t columns, float* gram) noexcept {
    addGramBy<2 * lanes>(rows, count, columns, gram);
}
LANDFALL_TARGET_WIDE void addDerivativesWide(const float* rows, const float* times, std::size_t count,
                                             std::size_t columns, const Derivatives& by,
                                             DerivativeSums& sums) noexcept {
    addDerivativesBy<2 * lanes>(rows, times, count, columns, by, sums);
}
#undef LANDFALL_TARGET_WIDE

}  // namespace

void addGram(const float* rows, std::size_t count, std::size_t columns, float* gram) noexcept {
    if (hasWideRegisters) addGramWide(rows, count, columns, gram);
    else addGramBy<lanes>(rows, count, columns, gram);
}
void addDerivatives(const float* rows, const float* times, std::size_t count, std::size_t columns,
                    const Derivatives& by, DerivativeSums& sums) noexcept {
    if (hasWideRegisters) addDerivativesWide(rows, times, count, columns, by, sums);
    else addDerivativesBy<lanes>(rows, times, count, columns, by, sums);
}

}  // namespace landfall
