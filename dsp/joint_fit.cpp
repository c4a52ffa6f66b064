#include "dsp/joint_fit.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include <Eigen/Cholesky>

#include "dsp/stiff_string.h"

namespace landfall {

namespace {

constexpr std::size_t mostPartials = 16;                                      // of one string
constexpr std::size_t mostColumns = 2 * mostPartials * JointFit::maxStrings;  // cosines and sines
constexpr std::size_t mostParameters = 3 * JointFit::maxStrings;              // pitch, slope, B of each
constexpr double samplesAPair = 3.0;  // a cosine and a sine ask for so many samples at least
constexpr double columnRidge = 1e-5;  // of a column's square: strings in unison stay solvable
constexpr double lastStep = 0.02;     // cents
constexpr double holdsTight = 1e9;    // times the information on the pitch

using Index = Eigen::Index;
using Columns = Eigen::Matrix<float, Eigen::Dynamic, Eigen::Dynamic>;

// Sines that glide, from sample to sample.
struct Turning {
    static constexpr Index lanes = 4;
    using Lanes = Eigen::Array<double, lanes, 1>;
    Lanes re, im, turnRe, turnIm, bendRe, bendIm;

    void goOn() noexcept {
        const Lanes next = re * turnRe - im * turnIm, nextTurn = turnRe * bendRe - turnIm * bendIm;
        im = re * turnIm + im * turnRe;
        re = next;
        turnIm = turnRe * bendIm + turnIm * bendRe;
        turnRe = nextTurn;
    }
};

}  // namespace

struct JointFit::State {
    Config config;
    Columns wave;    // a column a cosine, then a column a sine, string after string
    Columns change;  // derivatives of the fitted sound by each parameter
    Eigen::VectorXf signal, rest;
    std::vector<double> times;
    Eigen::MatrixXd gram, cross;
    Eigen::LLT<Eigen::MatrixXd> normal;
    Eigen::VectorXd amplitudes;

    // Of the fit that is made.
    Index size = 0, columns = 0, parameters = 0;
    std::size_t strings = 0;
    std::array<std::size_t, maxStrings> partials{}, first{};  // how many, and the column of the first cosine
    std::array<Tone, maxStrings> tones{};

    explicit State(const Config& given) : config(given) {
        wave.resize(static_cast<Index>(config.longestInput), static_cast<Index>(mostColumns));
        change.resize(static_cast<Index>(config.longestInput), static_cast<Index>(mostParameters));
        signal.resize(static_cast<Index>(config.longestInput));
        rest.resize(static_cast<Index>(config.longestInput));
        times.resize(config.longestInput);
    }

    bool layOut(std::span<const float> samples, const Request& request) noexcept {
        size = static_cast<Index>(samples.size());
        strings = request.start.size();
        if (strings < 1 || strings > maxStrings || size < 64) return false;
        const double limit = std::min(highestPartialHertz, 0.45 * config.sampleRate);
        const auto fitIn =
            static_cast<std::size_t>(static_cast<double>(size) / samplesAPair / 2.0 / static_cast<double>(strings));
        columns = 0;
        for (std::size_t j = 0; j < strings; ++j) {
            tones[j] = request.start[j];
            if (!(tones[j].pitch.value > 20.0) || tones[j].pitch.value > limit) return false;
            std::size_t count = std::min({request.partials, mostPartials, std::max<std::size_t>(1, fitIn)});
            while (count > 1
                   && static_cast<double>(count) * tones[j].pitch.value
                              * stretched(tones[j].inharmonicity, static_cast<double>(count))
                          > limit)
                --count;
            partials[j] = count;
            first[j] = static_cast<std::size_t>(columns);
            columns += static_cast<Index>(2 * count);
        }
        for (Index n = 0; n < size; ++n) {
            times[static_cast<std::size_t>(n)] = (static_cast<double>(n) - request.moment) / config.sampleRate;
            signal(n) = samples[static_cast<std::size_t>(n)];
        }
        return true;
    }

    void fillWave(std::size_t j) noexcept {
        for (Index k = 0; k < static_cast<Index>(partials[j]); k += Turning::lanes) fillWave(j, k);
    }

    // Some partials side by side, because each sample of one waits for the one before.
    void fillWave(std::size_t j, Index from) noexcept {
        const Tone& tone = tones[j];
        const double glide = tone.slope / centsPerLog * tone.pitch.value, step = 1.0 / config.sampleRate, t = times[0];
        const auto count = static_cast<Index>(partials[j]), at = static_cast<Index>(first[j]);
        Turning w;
        std::array<float*, Turning::lanes> cosine{}, sine{};
        for (Index lane = 0; lane < Turning::lanes; ++lane) {
            const Index k = std::min(from + lane, count - 1);
            const double number = static_cast<double>(k + 1);
            const double ratio = twoPi * number * stretched(tone.inharmonicity, number);
            cosine[static_cast<std::size_t>(lane)] = wave.col(at + k).data();
            sine[static_cast<std::size_t>(lane)] = wave.col(at + count + k).data();
            const double phase = ratio * t * (tone.pitch.value + 0.5 * glide * t);
            const double turn = ratio * step * (tone.pitch.value + glide * (t + 0.5 * step));
            const double bend = ratio * step * step * glide;
            w.re(lane) = std::cos(phase), w.im(lane) = std::sin(phase);
            w.turnRe(lane) = std::cos(turn), w.turnIm(lane) = std::sin(turn);
            w.bendRe(lane) = std::cos(bend), w.bendIm(lane) = std::sin(bend);
        }
        for (Index n = 0; n < size; ++n) {
            for (Index lane = 0; lane < Turning::lanes; ++lane) {
                cosine[static_cast<std::size_t>(lane)][n] = static_cast<float>(w.re(lane));
                sine[static_cast<std::size_t>(lane)][n] = static_cast<float>(w.im(lane));
            }
            w.goOn();
        }
    }

    // The fitted strings as they would sound at other moments.
    void foretell(double at, std::span<float> samples) noexcept {
        std::fill(samples.begin(), samples.end(), 0.0f);
        for (std::size_t j = 0; j < strings; ++j) {
            const double glide = tones[j].slope / centsPerLog * tones[j].pitch.value;
            for (std::size_t k = 0; k < partials[j]; ++k) {
                const double number = static_cast<double>(k + 1);
                const double ratio = twoPi * number * stretched(tones[j].inharmonicity, number);
                const double cosine = amplitudes(static_cast<Index>(first[j] + k)),
                             sine = amplitudes(static_cast<Index>(first[j] + partials[j] + k));
                for (std::size_t n = 0; n < samples.size(); ++n) {
                    const double t = times[0] + (at + static_cast<double>(n)) / config.sampleRate;
                    const double phase = ratio * t * (tones[j].pitch.value + 0.5 * glide * t);
                    samples[n] += static_cast<float>(cosine * std::cos(phase) + sine * std::sin(phase));
                }
            }
        }
    }

    bool solveAmplitudes() noexcept {
        const auto waves = wave.topLeftCorner(size, columns);
        gram.resize(columns, columns);
        Eigen::MatrixXf sums(columns, columns);
        sums.setZero();
        sums.selfadjointView<Eigen::Lower>().rankUpdate(waves.transpose());
        gram = sums.cast<double>();
        gram.diagonal().array() += columnRidge * static_cast<double>(size);
        normal.compute(gram);
        if (normal.info() != Eigen::Success) return false;
        const Eigen::VectorXd with = (waves.transpose() * signal.head(size)).cast<double>();
        amplitudes = normal.solve(with);
        rest.head(size) = signal.head(size) - waves * amplitudes.cast<float>();
        return true;
    }

    // By pitch in cents, by slope in cents per second, by the logarithm of B.
    void differentiate(std::size_t j) noexcept {
        const Tone& tone = tones[j];
        const double b = tone.inharmonicity, hertzACent = tone.pitch.value / centsPerLog;
        const auto count = static_cast<Index>(partials[j]);
        Eigen::VectorXf byPhase(2 * count), byB(2 * count);
        for (Index k = 0; k < count; ++k) {
            const double number = static_cast<double>(k + 1), square = number * number;
            const double g = stretched(b, number);
            const double slopeOfG = 0.5 * g * (square / (1.0 + b * square) - 1.0 / (1.0 + b));
            const double cosine = amplitudes(static_cast<Index>(first[j]) + k),
                         sine = amplitudes(static_cast<Index>(first[j]) + count + k);
            byPhase(k) = static_cast<float>(twoPi * number * g * sine);
            byPhase(count + k) = static_cast<float>(-twoPi * number * g * cosine);
            byB(k) = static_cast<float>(twoPi * number * slopeOfG * b * sine);
            byB(count + k) = static_cast<float>(-twoPi * number * slopeOfG * b * cosine);
        }
        const auto waves = wave.block(0, static_cast<Index>(first[j]), size, 2 * count);
        const Eigen::VectorXf turned = waves * byPhase, stiff = waves * byB;
        const double glide = tone.slope * hertzACent;
        for (Index n = 0; n < size; ++n) {
            const double t = times[static_cast<std::size_t>(n)];
            const double e = static_cast<double>(turned(n));
            change(n, static_cast<Index>(3 * j)) = static_cast<float>(e * t * hertzACent);
            change(n, static_cast<Index>(3 * j + 1)) = static_cast<float>(e * 0.5 * t * t * hertzACent);
            change(n, static_cast<Index>(3 * j + 2)) =
                static_cast<float>(static_cast<double>(stiff(n)) * t * (tone.pitch.value + 0.5 * glide * t));
        }
    }

    // One step; the largest change of a pitch in cents, below 0 where it cannot be solved.
    double improve(const Request& request, Result& result) noexcept {
        parameters = static_cast<Index>(3 * strings);
        for (std::size_t j = 0; j < strings; ++j) differentiate(j);
        const auto changes = change.topLeftCorner(size, parameters);
        const auto waves = wave.topLeftCorner(size, columns);
        cross = (waves.transpose() * changes).cast<double>();
        const Eigen::MatrixXd inner = (changes.transpose() * changes).cast<double>();
        Eigen::MatrixXd information = inner - cross.transpose() * normal.solve(cross);
        Eigen::VectorXd gradient = (changes.transpose() * rest.head(size)).cast<double>();
        const double left = static_cast<double>(rest.head(size).squaredNorm());
        const double variance =
            left / static_cast<double>(std::max<Index>(1, size - columns - parameters)) + 1e-9 * result.power;
        for (std::size_t j = 0; j < strings; ++j) {
            const auto at = static_cast<Index>(3 * j);
            const auto know = [&](Index parameter, double sd, double wanted) {
                if (sd > 0.0) {
                    information(parameter, parameter) += variance / (sd * sd);
                    gradient(parameter) += variance / (sd * sd) * wanted;
                } else {
                    information(parameter, parameter) +=
                        holdsTight * (1e-30 + std::abs(information(parameter, parameter)));
                    gradient(parameter) = 0.0;
                }
            };
            const Tone& was = request.start[j];
            if (was.pitchSd.value > 0.0) know(at, was.pitchSd.value, interval(tones[j].pitch, was.pitch).value);
            know(at + 1, request.slopeSd, was.slope - tones[j].slope);
            const bool stiffnessShows = partials[j] >= 4 && was.inharmonicity > 0.0;
            know(at + 2, stiffnessShows ? request.inharmonicitySd : 0.0,
                 was.inharmonicity > 0.0 ? std::log(was.inharmonicity / tones[j].inharmonicity) : 0.0);
        }
        const Eigen::VectorXd scale = (information.diagonal().array().abs() + 1e-30).sqrt();
        Eigen::MatrixXd scaled = information.cwiseQuotient(scale * scale.transpose());
        scaled.diagonal().array() += 1e-8;
        const Eigen::LLT<Eigen::MatrixXd> outer(scaled);
        if (outer.info() != Eigen::Success) return -1.0;
        const Eigen::VectorXd move = outer.solve(gradient.cwiseQuotient(scale)).cwiseQuotient(scale);
        if (!move.allFinite()) return -1.0;
        const Eigen::MatrixXd covariance = outer.solve(Eigen::MatrixXd::Identity(parameters, parameters));
        double most = 0.0;
        for (std::size_t j = 0; j < strings; ++j) {
            const auto at = static_cast<Index>(3 * j);
            Tone& tone = tones[j];
            const double cents = std::clamp(move(at), -request.widest.value, request.widest.value);
            tone.pitch.value *= std::exp2(cents / 1200.0);
            tone.slope += move(at + 1);
            if (tone.inharmonicity > 0.0)
                tone.inharmonicity = std::clamp(tone.inharmonicity * std::exp(std::clamp(move(at + 2), -0.4, 0.4)),
                                                1e-6, stiffestString);
            result.strings[j].sd = Cents(std::sqrt(std::max(0.0, variance * covariance(at, at))) / scale(at));
            most = std::max(most, std::abs(cents));
        }
        return most;
    }

    void takeShares(Result& result) noexcept {
        const double all = static_cast<double>(signal.head(size).squaredNorm());
        const Eigen::MatrixXd inverse = normal.solve(Eigen::MatrixXd::Identity(columns, columns));
        for (std::size_t j = 0; j < strings; ++j) {
            const auto at = static_cast<Index>(first[j]), count = static_cast<Index>(2 * partials[j]);
            const Eigen::VectorXd mine = amplitudes.segment(at, count);
            result.strings[j].tone = tones[j];
            result.strings[j].power = 0.5 * mine.squaredNorm();
            const double cosine = mine(0), sine = mine(count / 2);
            result.strings[j].first = 0.5 * (cosine * cosine + sine * sine) / std::max(1e-30, result.strings[j].power);
            result.strings[j].own = ownOf(j, inverse);
        }
        for (std::size_t j = 0; j < strings; ++j) takeUnshared(j, result);
        result.residual = static_cast<double>(rest.head(size).squaredNorm()) / all;
    }

    // What the power would lose without a string, of the waves that were solved last.
    double ownOf(std::size_t j, const Eigen::MatrixXd& inverse) const noexcept {
        const auto at = static_cast<Index>(first[j]), count = static_cast<Index>(2 * partials[j]);
        const Eigen::VectorXd mine = amplitudes.segment(at, count);
        return std::max(0.0, mine.dot(inverse.block(at, at, count, count).ldlt().solve(mine)))
               / static_cast<double>(signal.head(size).squaredNorm());
    }

    // Chebyshev's polynomials over the samples, so that the waves stay well apart.
    double ownBesideSwelling(std::size_t j, std::size_t powers) noexcept {
        const auto swelling = static_cast<Index>(2 * partials[0]), standing = columns;
        const Eigen::ArrayXf along = Eigen::ArrayXf::LinSpaced(size, -1.0f, 1.0f);
        for (std::size_t power = 1; power < powers; ++power) {
            if (columns + swelling > static_cast<Index>(mostColumns)) break;
            const Eigen::ArrayXf shape = (static_cast<float>(power) * along.acos()).cos();
            wave.block(0, columns, size, swelling) =
                (wave.topLeftCorner(size, swelling).array().colwise() * shape).matrix();
            columns += swelling;
        }
        const double own =
            solveAmplitudes() ? ownOf(j, normal.solve(Eigen::MatrixXd::Identity(columns, columns))) : 0.0;
        columns = standing;
        return own;
    }

    static double partialOf(const Tone& tone, double number) {
        return number * tone.pitch.value * stretched(tone.inharmonicity, number);
    }

    // Two partials are one where a stretch of this length cannot part them.
    void takeUnshared(std::size_t j, Result& result) const noexcept {
        const double apart = config.sampleRate / static_cast<double>(size);  // Hz
        double free = 0.0, all = 0.0, power = 0.0;
        for (std::size_t k = 1; k <= partials[j]; ++k) {
            const auto number = static_cast<double>(k);
            const double at = partialOf(tones[j], number), usual = 1.0 / (number * number);
            bool shared = false;
            for (std::size_t other = 0; other < strings; ++other)
                shared = shared || (other != j && isPartialOf(tones[other], at, apart));
            all += usual;
            if (shared) continue;
            free += usual;
            const auto column = static_cast<Index>(first[j] + k - 1), count = static_cast<Index>(partials[j]);
            power +=
                0.5
                * (amplitudes(column) * amplitudes(column) + amplitudes(column + count) * amplitudes(column + count));
        }
        result.strings[j].unshared = free / all;
        result.strings[j].clear = power / result.power;
    }

    static bool isPartialOf(const Tone& tone, double hertz, double within) noexcept {
        const double about = std::round(hertz / tone.pitch.value);
        for (const double number : {about - 1.0, about})
            if (number >= 1.0 && std::abs(partialOf(tone, number) - hertz) < within) return true;
        return false;
    }
};

JointFit::JointFit(const Config& config) : state(std::make_unique<State>(config)) {}
JointFit::~JointFit() = default;

JointFit::Result JointFit::fit(std::span<const float> samples, const Request& request) noexcept {
    State& s = *state;
    Result result;
    samples = samples.first(std::min(samples.size(), s.config.longestInput));
    if (!s.layOut(samples, request)) return result;
    result.power = static_cast<double>(s.signal.head(s.size).squaredNorm()) / static_cast<double>(s.size);
    if (!(result.power > silentPower)) return result;
    for (int step = 0; step <= request.steps; ++step) {
        for (std::size_t j = 0; j < s.strings; ++j) s.fillWave(j);
        if (!s.solveAmplitudes()) return result;
        if (step == request.steps) break;
        const double moved = s.improve(request, result);
        if (moved < 0.0) return result;
        for (std::size_t j = 0; j < s.strings; ++j)
            if (!(s.tones[j].pitch.value > 20.0 && s.tones[j].pitch.value < highestPartialHertz)) return result;
        if (moved < lastStep) break;
    }
    s.takeShares(result);
    result.usable = true;
    return result;
}

double JointFit::ownBesideSwelling(std::size_t j, std::size_t powers) noexcept {
    return state->ownBesideSwelling(j, powers);
}

std::span<const float> JointFit::leftover() const noexcept {
    return std::span<const float>(state->rest.data(), static_cast<std::size_t>(state->size));
}

void JointFit::foretell(double first, std::span<float> samples) noexcept { state->foretell(first, samples); }

}  // namespace landfall
