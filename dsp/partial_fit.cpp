#include "dsp/partial_fit.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numbers>
#include <vector>

#include <Eigen/Cholesky>

namespace landfall {

namespace {

constexpr double twoPi = 2.0 * std::numbers::pi;
constexpr double highestPartialHertz = 5500.0;                      // the decimator's passband
constexpr std::size_t lanes = 4;                                    // rows are padded to whole SIMD registers
constexpr std::size_t maxLinear = 2 * PartialFit::maxPartials + 1;  // cosines, sines, a constant
constexpr std::size_t maxColumns = (maxLinear + 1 + lanes - 1) / lanes * lanes;  // and the signal itself
constexpr std::size_t anchorSamples = 96;  // float rotations drift by under 3e-4 rad over this stretch
// Chosen on the battery's open clips with gain.
constexpr double disagreeTogether = 1.8;
constexpr double centsPerLog = 1200.0 / std::numbers::ln2;

using Linear = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, maxLinear, maxLinear>;
using Sides = Eigen::Matrix<double, Eigen::Dynamic, 4, Eigen::ColMajor, maxLinear, 4>;
using Matrix3 = Eigen::Matrix3d;
using Vector3 = Eigen::Vector3d;

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

// Sums over a stretch of rows of the derivatives by pitch, slope and B (see fit) with every column and with each other.
struct Derivatives {
    std::array<float, maxColumns> weightU{}, weightV{};
    float glide = 0.0f;
};
struct DerivativeSums {
    std::array<std::array<float, maxColumns>, 3> part{};
    std::array<float, 6> square{};
};
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

void addGram(const float* rows, std::size_t count, std::size_t columns, float* gram) noexcept {
    if (hasWideRegisters) addGramWide(rows, count, columns, gram);
    else addGramBy<lanes>(rows, count, columns, gram);
}
void addDerivatives(const float* rows, const float* times, std::size_t count, std::size_t columns,
                    const Derivatives& by, DerivativeSums& sums) noexcept {
    if (hasWideRegisters) addDerivativesWide(rows, times, count, columns, by, sums);
    else addDerivativesBy<lanes>(rows, times, count, columns, by, sums);
}

}  // namespace

struct PartialFit::State {
    Config config;
    std::vector<float> rows;     // one a sample: weighted cosines, sines, constant, signal
    std::vector<float> times;    // in half windows from the moment asked for
    std::vector<float> weights;  // square root of the window
    std::array<float, maxColumns * maxColumns> gram;
    // Of the last step, for leftover().
    std::array<float, maxColumns> lastAmplitudes{};
    std::size_t lastSize = 0, lastColumns = 0, lastLinear = 0;
    std::vector<float> rest;
    Heard heard;

    void fillWeights(std::size_t size, bool taper) noexcept {
        if (!taper) {
            std::fill_n(weights.begin(), size, 1.0f);
            return;
        }
        // sin(pi (n + 1/2) / size) by rotation.
        const double turn = std::numbers::pi / static_cast<double>(size);
        const double turnRe = std::cos(turn), turnIm = std::sin(turn);
        double re = std::cos(0.5 * turn), im = std::sin(0.5 * turn);
        for (std::size_t n = 0; n < size; ++n) {
            weights[n] = static_cast<float>(im);
            const double next = re * turnRe - im * turnIm;
            im = re * turnIm + im * turnRe;
            re = next;
        }
    }

    // Columns: cosine k at k, sine k at K + k, constant at 2K, signal at 2K + 1.
    void fillRows(std::span<const float> samples, const Request& request, const Tone& tone, std::size_t partials,
                  std::size_t columns) noexcept {
        constexpr std::size_t padded = (maxPartials + lanes - 1) / lanes * lanes;
        std::array<float, padded> re, im, turnRe, turnIm, bendRe, bendIm;
        const std::size_t used = (partials + lanes - 1) / lanes * lanes;
        std::array<double, padded> ratio{};
        for (std::size_t k = 0; k < partials; ++k) {
            const auto number = static_cast<double>(k + 1);
            ratio[k] =
                twoPi * number * std::sqrt((1.0 + tone.inharmonicity * number * number) / (1.0 + tone.inharmonicity));
        }
        const double step = 1.0 / config.sampleRate;
        for (std::size_t k = 0; k < used; ++k) {
            const double bend = ratio[k] * tone.slope * step * step;
            bendRe[k] = static_cast<float>(std::cos(bend));
            bendIm[k] = static_cast<float>(std::sin(bend));
        }
        for (std::size_t n = 0; n < samples.size(); ++n) {
            if (n % anchorSamples == 0) {
                const double t = (static_cast<double>(n) - request.moment) * step;
                for (std::size_t k = 0; k < used; ++k) {
                    const double phase = ratio[k] * t * (tone.pitch.value + 0.5 * tone.slope * t);
                    const double turn = ratio[k] * step * (tone.pitch.value + tone.slope * (t + 0.5 * step));
                    re[k] = static_cast<float>(std::cos(phase));
                    im[k] = static_cast<float>(std::sin(phase));
                    turnRe[k] = static_cast<float>(std::cos(turn));
                    turnIm[k] = static_cast<float>(std::sin(turn));
                }
            }
            const float weight = weights[n];
            float* row = rows.data() + n * columns;
            // Whole registers: what stands too far right is written over by what follows.
            for (std::size_t k = 0; k < used; k += lanes)
                for (std::size_t lane = 0; lane < lanes; ++lane) row[k + lane] = weight * re[k + lane];
            for (std::size_t k = 0; k < used; k += lanes)
                for (std::size_t lane = 0; lane < lanes; ++lane) row[partials + k + lane] = weight * im[k + lane];
            row[2 * partials] = weight;
            row[2 * partials + 1] = weight * samples[n];
            for (std::size_t k = 2 * partials + 2; k < columns; ++k) row[k] = 0.0f;
            for (std::size_t k = 0; k < used; ++k) {
                const float nextRe = re[k] * turnRe[k] - im[k] * turnIm[k];
                im[k] = re[k] * turnIm[k] + im[k] * turnRe[k];
                re[k] = nextRe;
                const float nextTurn = turnRe[k] * bendRe[k] - turnIm[k] * bendIm[k];
                turnIm[k] = turnRe[k] * bendIm[k] + turnIm[k] * bendRe[k];
                turnRe[k] = nextTurn;
            }
        }
    }

    // The pitch's standard deviation from what each partial alone would change about it: the covariance for clustered
    // residuals of Liang & Zeger (Longitudinal data analysis using generalized linear models, Biometrika 73, 1986), a
    // cluster a partial. Noise is white, but what a real string does beside the model gathers around its partials,
    // where the ordinary formula sees too little of it. In units of the pitch parameter.
    template <typename Vector>
    double disagreement(const Vector& amplitudes, const Matrix3& inverse, double change, std::size_t partials,
                        std::size_t size, std::size_t columns, float glide,
                        const std::array<float, maxColumns>& weightU,
                        const std::array<float, maxColumns>& weightV) noexcept {
        for (std::size_t k = 0; k <= 2 * partials; ++k)
            lastAmplitudes[k] = static_cast<float>(amplitudes(static_cast<Eigen::Index>(k)));
        lastSize = size;
        lastColumns = columns;
        lastLinear = 2 * partials + 1;
        takeRest();
        std::array<float, maxColumns> byPitch{}, bySlope{}, byStiffness{};
        for (std::size_t n = 0; n < size; ++n) {
            const float* row = rows.data() + n * columns;
            const float t = times[n], a = t * rest[n], b = t * a, c = a + glide * b;
            for (std::size_t k = 0; k < columns; ++k) {
                byPitch[k] += a * row[k];
                bySlope[k] += b * row[k];
                byStiffness[k] += c * row[k];
            }
        }
        double all = 0.0, squares = 0.0;
        for (std::size_t k = 0; k < partials; ++k)
            all += static_cast<double>(weightU[k] * weightU[k] + weightU[partials + k] * weightU[partials + k]);
        for (std::size_t k = 0; k < partials; ++k) {
            const std::size_t q = partials + k;
            const auto pair = [k, q](const std::array<float, maxColumns>& weight,
                                     const std::array<float, maxColumns>& by) {
                return static_cast<double>(weight[k] * by[k] + weight[q] * by[q]);
            };
            const double alone = inverse(0, 0) * pair(weightU, byPitch) + inverse(0, 1) * pair(weightU, bySlope)
                                 + inverse(0, 2) * pair(weightV, byStiffness);
            const double share =
                static_cast<double>(weightU[k] * weightU[k] + weightU[q] * weightU[q]) / std::max(all, 1e-30);
            squares += (alone - share * change) * (alone - share * change);
        }
        return std::sqrt(squares * static_cast<double>(partials) / std::max(1.0, static_cast<double>(partials) - 2.0));
    }

    void takeRest() noexcept {
        for (std::size_t n = 0; n < lastSize; ++n) {
            const float* row = rows.data() + n * lastColumns;
            float sum = row[lastLinear];
            for (std::size_t k = 0; k < lastLinear; ++k) sum -= lastAmplitudes[k] * row[k];
            rest[n] = sum;
        }
    }
};

PartialFit::PartialFit(const Config& config) : state(std::make_unique<State>()) {
    state->config = config;
    state->rows.resize(config.longestInput * maxColumns + lanes);
    state->times.resize(config.longestInput);
    state->weights.resize(config.longestInput);
    state->rest.resize(config.longestInput);
}

PartialFit::~PartialFit() = default;

PartialFit::Result PartialFit::fit(std::span<const float> samples, const Request& request) noexcept {
    State& s = *state;
    Result result;
    const std::size_t size = std::min(samples.size(), s.config.longestInput);
    samples = samples.first(size);
    Tone tone = request.start;
    const double limit = std::min(highestPartialHertz, 0.45 * s.config.sampleRate);
    std::size_t partials = std::min(request.partials, maxPartials);
    while (partials > 1
           && (static_cast<double>(partials) * tone.pitch.value * 1.02
                       * std::sqrt(1.0 + tone.inharmonicity * static_cast<double>(partials * partials))
                   > limit
               || size < 3 * (2 * partials + 4)))
        --partials;
    if (size < 24 || !(tone.pitch.value > 0.0) || tone.pitch.value * 1.02 > limit) return result;

    const std::size_t linear = 2 * partials + 1;
    const std::size_t columns = (linear + 1 + lanes - 1) / lanes * lanes;
    const double half = 0.5 * static_cast<double>(size) / s.config.sampleRate;
    for (std::size_t n = 0; n < size; ++n)
        s.times[n] = static_cast<float>((static_cast<double>(n) - request.moment) / s.config.sampleRate / half);

    s.fillWeights(size, request.taper);
    for (int step = 0; step < request.steps; ++step) {
        s.fillRows(samples, request, tone, partials, columns);
        std::fill_n(s.gram.begin(), columns * columns, 0.0f);
        addGram(s.rows.data(), size, columns, s.gram.data());

        Linear normal(linear, linear);
        Sides sides(linear, 4);
        for (std::size_t i = 0; i < linear; ++i) {
            for (std::size_t j = i; j < linear; ++j)
                normal(static_cast<Eigen::Index>(j), static_cast<Eigen::Index>(i)) =
                    static_cast<double>(s.gram[i * columns + j]);
            sides(static_cast<Eigen::Index>(i), 0) = static_cast<double>(s.gram[i * columns + linear]);
        }
        const double total = static_cast<double>(s.gram[linear * columns + linear]);
        const double weights = static_cast<double>(s.gram[2 * partials * columns + 2 * partials]);
        if (!(total > 1e-13 * weights)) return result;
        for (Eigen::Index i = 0; i < normal.rows(); ++i) normal(i, i) += 2e-6 * weights;
        const Eigen::LLT<Linear, Eigen::Lower> cholesky(normal);
        if (cholesky.info() != Eigen::Success) return result;
        const auto amplitudes = cholesky.solve(sides.col(0)).eval();

        // Derivatives of the fitted signal by pitch, slope and B, each divided by a common scale: u = sum of k g_k (-a
        // sin + b cos), v the same with g' for g; by pitch t u, by slope t² u / 2, by B (f t + s t² / 2) v.
        Derivatives derivatives;
        auto& [weightU, weightV, glide] = derivatives;
        for (std::size_t k = 0; k < partials; ++k) {
            const auto number = static_cast<double>(k + 1);
            const double b = tone.inharmonicity, square = number * number;
            const double g = std::sqrt((1.0 + b * square) / (1.0 + b));
            const double slopeOfG = 0.5 * g * (square / (1.0 + b * square) - 1.0 / (1.0 + b));
            const double cosine = amplitudes(static_cast<Eigen::Index>(k)),
                         sine = amplitudes(static_cast<Eigen::Index>(partials + k));
            weightU[k] = static_cast<float>(number * g * sine);
            weightU[partials + k] = static_cast<float>(-number * g * cosine);
            weightV[k] = static_cast<float>(number * slopeOfG * sine);
            weightV[partials + k] = static_cast<float>(-number * slopeOfG * cosine);
            result.power[k] = static_cast<float>(0.5 * (cosine * cosine + sine * sine));
        }
        // Parameters are scaled: pitch in units of p = 1 / (2 pi half) Hz, slope in p / half * 2, B in p / f.
        std::array<std::array<double, maxColumns>, 3> cross{};
        Matrix3 inner = Matrix3::Zero();
        glide = static_cast<float>(0.5 * tone.slope * half / tone.pitch.value);
        constexpr std::size_t chunk = 64;  // float sums over a chunk, double over the chunks
        for (std::size_t begin = 0; begin < size; begin += chunk) {
            DerivativeSums sums;
            addDerivatives(s.rows.data() + begin * columns, s.times.data() + begin,
                           std::min(size, begin + chunk) - begin, columns, derivatives, sums);
            for (std::size_t p = 0; p < 3; ++p)
                for (std::size_t k = 0; k < columns; ++k) cross[p][k] += static_cast<double>(sums.part[p][k]);
            for (int i = 0, at = 0; i < 3; ++i)
                for (int j = i; j < 3; ++j, ++at)
                    inner(i, j) += static_cast<double>(sums.square[static_cast<std::size_t>(at)]);
        }
        inner(1, 0) = inner(0, 1);
        inner(2, 0) = inner(0, 2);
        inner(2, 1) = inner(1, 2);
        for (std::size_t p = 0; p < 3; ++p)
            for (std::size_t i = 0; i < linear; ++i)
                sides(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(p + 1)) = cross[p][i];
        const auto projected = cholesky.solve(sides.rightCols<3>()).eval();
        Matrix3 information = inner - sides.rightCols<3>().transpose() * projected;
        Vector3 gradient;
        for (std::size_t p = 0; p < 3; ++p)
            gradient(static_cast<Eigen::Index>(p)) =
                cross[p][linear] - sides.col(static_cast<Eigen::Index>(p + 1)).dot(amplitudes);

        const double residual = std::max(total - amplitudes.dot(sides.col(0)), 1e-9 * total);
        // A Hann weight leaves about 2/3 of its sum as independent samples.
        const double freedom =
            std::max(1.0, (request.taper ? 0.67 : 1.0) * static_cast<double>(size) - static_cast<double>(linear) - 3.0);
        const double variance = residual / weights * static_cast<double>(size) / freedom;
        const double unit = 1.0 / (twoPi * half);          // Hz per unit of the pitch parameter
        const double slopeUnit = 2.0 * unit / half;        // Hz per second
        const double stiffUnit = unit / tone.pitch.value;  // B
        const double centsPerHertz = centsPerLog / tone.pitch.value;
        const auto hold = [&](Eigen::Index p, double sd) {
            if (sd > 0.0) information(p, p) += variance / (sd * sd);
            else information(p, p) += 1e12 * (1.0 + information(0, 0));
        };
        hold(1, request.slopeSd / centsPerHertz / slopeUnit);
        hold(2, request.inharmonicitySd / stiffUnit);
        if (request.slopeSd > 0.0) {
            const double sd = request.slopeSd / centsPerHertz / slopeUnit;
            gradient(1) += variance / (sd * sd) * (request.start.slope - tone.slope) / slopeUnit;
        }
        if (request.inharmonicitySd > 0.0) {
            const double sd = request.inharmonicitySd / stiffUnit;
            gradient(2) += variance / (sd * sd) * (request.start.inharmonicity - tone.inharmonicity) / stiffUnit;
        }
        information(0, 0) += 1e-9 * weights * total / weights;
        const Eigen::LLT<Matrix3> outer(information);
        if (outer.info() != Eigen::Success) return result;
        const Vector3 change = outer.solve(gradient);
        const Matrix3 covariance = variance * outer.solve(Matrix3::Identity());
        if (!change.allFinite()) return result;

        const double widest = 0.03 * tone.pitch.value;
        tone.pitch.value += std::clamp(change(0) * unit, -widest, widest);
        if (request.slopeSd > 0.0) tone.slope += change(1) * slopeUnit;
        if (request.inharmonicitySd > 0.0)
            tone.inharmonicity = std::clamp(tone.inharmonicity + change(2) * stiffUnit, 0.0, 0.004);
        result.tone = tone;
        result.sd = Cents(std::sqrt(std::max(0.0, covariance(0, 0))) * unit * centsPerHertz);
        if (request.partialsDisagree && partials >= 3) {
            const Matrix3 inverse = covariance / variance;
            const double apart =
                s.disagreement(amplitudes, inverse, change(0), partials, size, columns, glide, weightU, weightV) * unit
                * centsPerHertz;
            // Partials that disagree by more than noise do so together (what gain adds to one it adds to its
            // neighbours), so that a cluster a partial still sees too little: the share beyond the noise counts for
            // more.
            const double beyond = std::sqrt(std::max(0.0, apart * apart - result.sd.value * result.sd.value));
            result.sd = Cents(std::hypot(result.sd.value, disagreeTogether * beyond));
        }
        result.slopeSd = std::sqrt(std::max(0.0, covariance(1, 1))) * slopeUnit * centsPerHertz;
        result.inharmonicitySd = std::sqrt(std::max(0.0, covariance(2, 2))) * stiffUnit;
        // What the step itself still gains counts as explained.
        result.residual = std::max(0.0, residual - std::max(0.0, gradient.dot(change))) / total;
        result.partials = partials;
        result.usable = tone.pitch.value > 0.0 && tone.pitch.value < limit;
        for (std::size_t k = 0; k < linear; ++k)
            s.lastAmplitudes[k] = static_cast<float>(amplitudes(static_cast<Eigen::Index>(k)));
        s.lastSize = size;
        s.lastColumns = columns;
        s.lastLinear = linear;
        s.heard.tone = tone;
        s.heard.moment = request.moment;
        s.heard.partials = partials;
        std::copy_n(s.lastAmplitudes.begin(), linear, s.heard.amplitudes.begin());
        if (std::abs(change(0) * unit * centsPerHertz) < 0.05 && step + 1 < request.steps) break;
    }
    return result;
}

std::span<const float> PartialFit::leftover() const noexcept {
    state->takeRest();
    return std::span<const float>(state->rest).first(state->lastSize);
}

const PartialFit::Heard& PartialFit::heard() const noexcept { return state->heard; }

double PartialFit::unforeseen(const Heard& heard, std::span<const float> samples, double at) const noexcept {
    const Tone& tone = heard.tone;
    const double step = 1.0 / state->config.sampleRate;
    const double first = (at - heard.moment) * step, middle = first + 0.5 * static_cast<double>(samples.size()) * step;
    std::array<double, maxPartials> re, im, turnRe, turnIm;
    for (std::size_t k = 0; k < heard.partials; ++k) {
        const auto number = static_cast<double>(k + 1);
        const double ratio =
            twoPi * number * std::sqrt((1.0 + tone.inharmonicity * number * number) / (1.0 + tone.inharmonicity));
        const double phase = ratio * first * (tone.pitch.value + 0.5 * tone.slope * first),
                     turn = ratio * step * (tone.pitch.value + tone.slope * middle);
        const double cosine = static_cast<double>(heard.amplitudes[k]),
                     sine = static_cast<double>(heard.amplitudes[heard.partials + k]);
        re[k] = cosine * std::cos(phase) + sine * std::sin(phase);
        im[k] = cosine * std::sin(phase) - sine * std::cos(phase);
        turnRe[k] = std::cos(turn);
        turnIm[k] = std::sin(turn);
    }
    double missed = 0.0, all = 1e-20;
    for (const float sample : samples) {
        double rest = static_cast<double>(sample) - static_cast<double>(heard.amplitudes[2 * heard.partials]);
        for (std::size_t k = 0; k < heard.partials; ++k) {
            rest -= re[k];
            const double next = re[k] * turnRe[k] - im[k] * turnIm[k];
            im[k] = im[k] * turnRe[k] + re[k] * turnIm[k];
            re[k] = next;
        }
        missed += rest * rest;
        all += static_cast<double>(sample) * static_cast<double>(sample);
    }
    return missed / all;
}

}  // namespace landfall
