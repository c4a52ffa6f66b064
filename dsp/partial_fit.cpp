#include "dsp/partial_fit.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

#include <Eigen/Cholesky>

#include "dsp/row_sums.h"
#include "dsp/stiff_string.h"

namespace landfall {

namespace {

constexpr std::size_t maxLinear = 2 * PartialFit::maxPartials + 1;  // cosines, sines, a constant
constexpr std::size_t anchorSamples = 96;  // float rotations drift by under 3e-4 rad over this stretch
// Partials that disagree by more than noise do so together (what gain adds to one it adds to its neighbours), so that a
// cluster a partial still sees too little: the share beyond the noise counts for more. Chosen on the battery's open
// clips with gain.
constexpr double disagreeTogether = 1.8;
constexpr std::size_t disagreeLeast = 3;   // partials
constexpr std::size_t shortestInput = 24;  // samples
constexpr double tooHigh = 1.02;           // of the pitch: a step may raise it by so much
constexpr double ridge = 2e-6;             // of the window: two columns that hardly differ stay solvable in floats
constexpr double pitchRidge = 1e-9;        // of the signal's power
constexpr double explainedMost = 1e-9;     // share of the power that is left unexplained at the least: rounding
constexpr double holdsFast = 1e12;         // times the information on the pitch
// A Hann weight leaves about 2/3 of its sum as independent samples.
constexpr double taperedFreedom = 0.67;
constexpr double widestStep = 0.03;  // of the pitch, half a fret: where linear and true part
constexpr double goodEnough = 0.05;  // cents: a smaller step was the last one
constexpr std::size_t chunk = 64;    // rows whose sums are floats; sums over the chunks are doubles

using Linear = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, maxLinear, maxLinear>;
using Sides = Eigen::Matrix<double, Eigen::Dynamic, 4, Eigen::ColMajor, maxLinear, 4>;
using Matrix3 = Eigen::Matrix3d;
using Vector3 = Eigen::Vector3d;

using Amplitudes = Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, maxLinear, 1>;
static_assert(longestRow >= maxLinear + 1 && longestRow % lanes == 0);  // and the signal itself

double at(const Amplitudes& all, std::size_t i) { return all(static_cast<Eigen::Index>(i)); }

// A parameter of the fit as it is now, and what was known of it before; in the world's units, of which `unit` is the
// fit's own. A standard deviation of 0 holds it.
struct Prior {
    double value = 0.0, sd = 0.0, unit = 1.0, now = 0.0;
};

// One step of Gauss and Newton with the amplitudes projected out. Parameters: pitch in 1 / (2 pi half) Hz, slope in two
// of these in half a window, B in that share of the pitch.
struct Step {
    double power = 0.0, weight = 0.0;  // sums over the window: of the signal's square, of the window itself
    Eigen::LLT<Linear, Eigen::Lower> normal;
    Amplitudes amplitudes;
    Sides sides;  // the linear columns with the signal, and with each parameter's derivative
    Derivatives derivatives;
    Matrix3 information;
    Vector3 gradient;

    void know(Eigen::Index parameter, const Prior& prior, double variance) noexcept {
        const double sd = prior.sd / prior.unit;
        if (sd > 0.0) {
            information(parameter, parameter) += variance / (sd * sd);
            gradient(parameter) += variance / (sd * sd) * (prior.value - prior.now) / prior.unit;
        } else {
            information(parameter, parameter) += holdsFast * (1.0 + information(0, 0));
        }
    }
};

}  // namespace

struct PartialFit::State {
    Config config;
    std::vector<float> rows;     // one a sample: weighted cosines, sines, constant, signal
    std::vector<float> times;    // in half windows from the moment asked for
    std::vector<float> weights;  // square root of the window
    std::array<float, longestRow * longestRow> gram;
    // Of the fit: how its rows are laid out.
    std::size_t size = 0, partials = 0, linear = 0, columns = 0;
    double half = 0.0;   // s: half a window
    double limit = 0.0;  // Hz: no partial lies above
    // Of the last step, for leftover().
    std::array<float, longestRow> lastAmplitudes{};
    std::vector<float> rest;
    Heard heard;

    // As many partials as fit in below the limit and are fewer than the samples can tell apart. False: none.
    bool layOut(std::size_t samples, const Request& request) noexcept {
        const Tone& tone = request.start;
        size = samples;
        limit = std::min(highestPartialHertz, 0.45 * config.sampleRate);
        partials = std::min(request.partials, maxPartials);
        const auto fitsIn = [&](std::size_t count) {
            return static_cast<double>(count) * tone.pitch.value * tooHigh
                           * std::sqrt(1.0 + tone.inharmonicity * static_cast<double>(count * count))
                       <= limit
                   && size >= 3 * (2 * count + 4);
        };
        while (partials > 1 && !fitsIn(partials)) --partials;
        if (size < shortestInput || !(tone.pitch.value > 0.0) || tone.pitch.value * tooHigh > limit) return false;
        linear = 2 * partials + 1;
        columns = (linear + 1 + lanes - 1) / lanes * lanes;
        half = 0.5 * static_cast<double>(size) / config.sampleRate;
        for (std::size_t n = 0; n < size; ++n)
            times[n] = static_cast<float>((static_cast<double>(n) - request.moment) / config.sampleRate / half);
        fillWeights(request.taper);
        return true;
    }

    void fillWeights(bool taper) noexcept {
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
    void fillRows(std::span<const float> samples, double moment, const Tone& tone) noexcept {
        constexpr std::size_t padded = (maxPartials + lanes - 1) / lanes * lanes;
        std::array<float, padded> re, im, turnRe, turnIm, bendRe, bendIm;
        const std::size_t used = (partials + lanes - 1) / lanes * lanes;
        std::array<double, padded> ratio{};
        for (std::size_t k = 0; k < partials; ++k) {
            const auto number = static_cast<double>(k + 1);
            ratio[k] = twoPi * number * stretched(tone.inharmonicity, number);
        }
        const double step = 1.0 / config.sampleRate;
        for (std::size_t k = 0; k < used; ++k) {
            const double bend = ratio[k] * tone.slope * step * step;
            bendRe[k] = static_cast<float>(std::cos(bend));
            bendIm[k] = static_cast<float>(std::sin(bend));
        }
        for (std::size_t n = 0; n < samples.size(); ++n) {
            if (n % anchorSamples == 0) {
                const double t = (static_cast<double>(n) - moment) * step;
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

    // Normal equations of the linear part. False: nothing sounds.
    bool solveAmplitudes(Step& step) noexcept {
        std::fill_n(gram.begin(), columns * columns, 0.0f);
        addGram(rows.data(), size, columns, gram.data());
        const auto sum = [&](std::size_t i, std::size_t j) { return static_cast<double>(gram[i * columns + j]); };
        step.power = sum(linear, linear);
        step.weight = sum(2 * partials, 2 * partials);
        if (!(step.power > silentPower * step.weight)) return false;
        Linear normal(linear, linear);
        step.sides.resize(static_cast<Eigen::Index>(linear), Eigen::NoChange);
        for (std::size_t i = 0; i < linear; ++i) {
            for (std::size_t j = i; j < linear; ++j)
                normal(static_cast<Eigen::Index>(j), static_cast<Eigen::Index>(i)) = sum(i, j);
            step.sides(static_cast<Eigen::Index>(i), 0) = sum(i, linear);
        }
        for (Eigen::Index i = 0; i < normal.rows(); ++i) normal(i, i) += ridge * step.weight;
        step.normal.compute(normal);
        if (step.normal.info() != Eigen::Success) return false;
        step.amplitudes = step.normal.solve(step.sides.col(0));
        return true;
    }

    // Derivatives of the fitted signal by pitch, slope and B, each divided by a common scale: u = sum of k g_k (-a sin
    // + b cos), v the same with g' for g; by pitch t u, by slope t² u / 2, by B (f t + s t² / 2) v.
    void differentiate(const Tone& tone, Step& step) const noexcept {
        auto& [weightU, weightV, glide] = step.derivatives;
        const double b = tone.inharmonicity;
        for (std::size_t k = 0; k < partials; ++k) {
            const auto number = static_cast<double>(k + 1);
            const double square = number * number, g = stretched(b, number);
            const double slopeOfG = 0.5 * g * (square / (1.0 + b * square) - 1.0 / (1.0 + b));
            const double cosine = at(step.amplitudes, k), sine = at(step.amplitudes, partials + k);
            weightU[k] = static_cast<float>(number * g * sine);
            weightU[partials + k] = static_cast<float>(-number * g * cosine);
            weightV[k] = static_cast<float>(number * slopeOfG * sine);
            weightV[partials + k] = static_cast<float>(-number * slopeOfG * cosine);
        }
        glide = static_cast<float>(0.5 * tone.slope * half / tone.pitch.value);
    }

    // Information and gradient of the three parameters, what the amplitudes can take over left out.
    void project(Step& step) noexcept {
        std::array<std::array<double, longestRow>, 3> cross{};
        Matrix3 inner = Matrix3::Zero();
        for (std::size_t begin = 0; begin < size; begin += chunk) {
            DerivativeSums sums;
            addDerivatives(rows.data() + begin * columns, times.data() + begin, std::min(size, begin + chunk) - begin,
                           columns, step.derivatives, sums);
            for (std::size_t p = 0; p < 3; ++p)
                for (std::size_t k = 0; k < columns; ++k) cross[p][k] += static_cast<double>(sums.part[p][k]);
            for (int i = 0, all = 0; i < 3; ++i)
                for (int j = i; j < 3; ++j, ++all)
                    inner(i, j) += static_cast<double>(sums.square[static_cast<std::size_t>(all)]);
        }
        inner(1, 0) = inner(0, 1);
        inner(2, 0) = inner(0, 2);
        inner(2, 1) = inner(1, 2);
        for (std::size_t p = 0; p < 3; ++p)
            for (std::size_t i = 0; i < linear; ++i)
                step.sides(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(p + 1)) = cross[p][i];
        const auto projected = step.normal.solve(step.sides.rightCols<3>()).eval();
        step.information = inner - step.sides.rightCols<3>().transpose() * projected;
        for (std::size_t p = 0; p < 3; ++p)
            step.gradient(static_cast<Eigen::Index>(p)) =
                cross[p][linear] - step.sides.col(static_cast<Eigen::Index>(p + 1)).dot(step.amplitudes);
    }

    // The pitch's standard deviation from what each partial alone would change about it: the covariance for clustered
    // residuals of Liang & Zeger (Longitudinal data analysis using generalized linear models, Biometrika 73, 1986), a
    // cluster a partial. Noise is white, but what a real string does beside the model gathers around its partials,
    // where the ordinary formula sees too little of it. In units of the pitch parameter.
    double disagreement(const Step& step, const Matrix3& inverse, double change) noexcept {
        takeRest();
        std::array<float, longestRow> byPitch{}, bySlope{}, byStiffness{};
        for (std::size_t n = 0; n < size; ++n) {
            const float* row = rows.data() + n * columns;
            const float t = times[n], a = t * rest[n], b = t * a, c = a + step.derivatives.glide * b;
            for (std::size_t k = 0; k < columns; ++k) {
                byPitch[k] += a * row[k];
                bySlope[k] += b * row[k];
                byStiffness[k] += c * row[k];
            }
        }
        const auto& [weightU, weightV, glide] = step.derivatives;
        double all = 0.0, squares = 0.0;
        for (std::size_t k = 0; k < partials; ++k)
            all += static_cast<double>(weightU[k] * weightU[k] + weightU[partials + k] * weightU[partials + k]);
        for (std::size_t k = 0; k < partials; ++k) {
            const std::size_t q = partials + k;
            const auto pair = [k, q](const std::array<float, longestRow>& weight,
                                     const std::array<float, longestRow>& by) {
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
        for (std::size_t n = 0; n < size; ++n) {
            const float* row = rows.data() + n * columns;
            float sum = row[linear];
            for (std::size_t k = 0; k < linear; ++k) sum -= lastAmplitudes[k] * row[k];
            rest[n] = sum;
        }
    }

    // Moves `tone` by one step, and says how sure it is then. The size of the step in cents; empty: it cannot be
    // solved.
    std::optional<Cents> improve(Step& step, const Request& request, Tone& tone, Result& result) noexcept {
        const double residual =
            std::max(step.power - step.amplitudes.dot(step.sides.col(0)), explainedMost * step.power);
        const double freedom = std::max(1.0, (request.taper ? taperedFreedom : 1.0) * static_cast<double>(size)
                                                 - static_cast<double>(linear) - 3.0);
        const double variance = residual / step.weight * static_cast<double>(size) / freedom;
        const double unit = 1.0 / (twoPi * half);          // Hz
        const double slopeUnit = 2.0 * unit / half;        // Hz per second
        const double stiffUnit = unit / tone.pitch.value;  // B
        const double centsPerHertz = centsPerLog / tone.pitch.value;
        step.know(1, {request.start.slope, request.slopeSd / centsPerHertz, slopeUnit, tone.slope}, variance);
        step.know(2, {request.start.inharmonicity, request.inharmonicitySd, stiffUnit, tone.inharmonicity}, variance);
        step.information(0, 0) += pitchRidge * step.power;
        const Eigen::LLT<Matrix3> outer(step.information);
        if (outer.info() != Eigen::Success) return std::nullopt;
        const Vector3 change = outer.solve(step.gradient);
        const Matrix3 covariance = variance * outer.solve(Matrix3::Identity());
        if (!change.allFinite()) return std::nullopt;

        const double widest = widestStep * tone.pitch.value;
        tone.pitch.value += std::clamp(change(0) * unit, -widest, widest);
        if (request.slopeSd > 0.0) tone.slope += change(1) * slopeUnit;
        if (request.inharmonicitySd > 0.0)
            tone.inharmonicity = std::clamp(tone.inharmonicity + change(2) * stiffUnit, 0.0, stiffestString);
        for (std::size_t k = 0; k < linear; ++k) lastAmplitudes[k] = static_cast<float>(at(step.amplitudes, k));
        result.tone = tone;
        result.sd = Cents(std::sqrt(std::max(0.0, covariance(0, 0))) * unit * centsPerHertz);
        if (request.partialsDisagree && partials >= disagreeLeast) {
            const double apart = disagreement(step, covariance / variance, change(0)) * unit * centsPerHertz;
            const double beyond = std::sqrt(std::max(0.0, apart * apart - result.sd.value * result.sd.value));
            result.sd = Cents(std::hypot(result.sd.value, disagreeTogether * beyond));
        }
        result.slopeSd = std::sqrt(std::max(0.0, covariance(1, 1))) * slopeUnit * centsPerHertz;
        result.inharmonicitySd = std::sqrt(std::max(0.0, covariance(2, 2))) * stiffUnit;
        // What the step itself still gains counts as explained.
        result.residual = std::max(0.0, residual - std::max(0.0, step.gradient.dot(change))) / step.power;
        return Cents(std::abs(change(0) * unit * centsPerHertz));
    }
};

PartialFit::PartialFit(const Config& config) : state(std::make_unique<State>()) {
    state->config = config;
    state->rows.resize(config.longestInput * longestRow + lanes);
    state->times.resize(config.longestInput);
    state->weights.resize(config.longestInput);
    state->rest.resize(config.longestInput);
}

PartialFit::~PartialFit() = default;

PartialFit::Result PartialFit::fit(std::span<const float> samples, const Request& request) noexcept {
    State& s = *state;
    Result result;
    samples = samples.first(std::min(samples.size(), s.config.longestInput));
    if (!s.layOut(samples.size(), request)) return result;
    Tone tone = request.start;
    for (int count = 0; count < request.steps; ++count) {
        Step step;
        s.fillRows(samples, request.moment, tone);
        if (!s.solveAmplitudes(step)) return result;
        s.differentiate(tone, step);
        s.project(step);
        const auto moved = s.improve(step, request, tone, result);
        if (!moved) return result;
        for (std::size_t k = 0; k < s.partials; ++k) {
            const double cosine = at(step.amplitudes, k), sine = at(step.amplitudes, s.partials + k);
            result.power[k] = static_cast<float>(0.5 * (cosine * cosine + sine * sine));
        }
        result.partials = s.partials;
        result.usable = tone.pitch.value > 0.0 && tone.pitch.value < s.limit;
        s.heard = {tone, request.moment, s.partials, {}};
        std::copy_n(s.lastAmplitudes.begin(), s.linear, s.heard.amplitudes.begin());
        if (moved->value < goodEnough) break;
    }
    return result;
}

std::span<const float> PartialFit::leftover() const noexcept {
    state->takeRest();
    return std::span<const float>(state->rest).first(state->size);
}

const PartialFit::Heard& PartialFit::heard() const noexcept { return state->heard; }

double PartialFit::unforeseen(const Heard& heard, std::span<const float> samples, double at) const noexcept {
    const Tone& tone = heard.tone;
    const double step = 1.0 / state->config.sampleRate;
    const double first = (at - heard.moment) * step, middle = first + 0.5 * static_cast<double>(samples.size()) * step;
    std::array<double, maxPartials> re, im, turnRe, turnIm;
    for (std::size_t k = 0; k < heard.partials; ++k) {
        const auto number = static_cast<double>(k + 1);
        const double ratio = twoPi * number * stretched(tone.inharmonicity, number);
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
