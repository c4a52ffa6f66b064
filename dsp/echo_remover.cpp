#include "dsp/echo_remover.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

#include "dsp/coarse_period.h"

namespace landfall {

namespace {

constexpr std::size_t order = 63, sumBlock = 64;
constexpr double learnSeconds = 0.060, likeSeconds = 0.028, stepSeconds = 0.010, pitchSeconds = 0.048;
constexpr double earlySeconds = 0.003;  // a stroke may have begun before it was heard to
constexpr double shortestDelay = 0.070, longestDelay = 0.900;
constexpr double heldSeconds = 1.2;  // the longest delay, a stretch and what its predictor learns from
constexpr double fadeSeconds = 0.020;
constexpr double candidateLasts = 3.0;  // s after its stroke
// Of 0 to 1. Strings picked again, rooms and other effects stay under 0.55.
constexpr double alike = 0.4, surelyAlike = 0.6;
constexpr double sameLag = 2.0;                  // samples
constexpr double softest = 0.13, loudest = 0.7;  // of the stroke
// An attack is new to the predictor: so many times what it left of the sound before.
constexpr double newTimes = 1.5;
constexpr double usualFeedback = 0.3, mostFeedback = 0.9;
constexpr double afterStroke = 0.040;  // s, that a stretch of a pitch begins
constexpr double pitchClear = 0.8;
constexpr double leftAlike = 0.8;        // to itself, periods of a pitch before: no longer that pitch
constexpr double asLoud = 1.4;           // at most, of two repeats of one echo
constexpr double missingLikeness = 0.5;  // of what an echo would show
// Of a true echo nearly every step says that it is there; what only happens to be repeated is missing after three.
constexpr int stepsToBelieve = 4, stepsToForget = 2;
constexpr std::ptrdiff_t edge = 4;  // samples to each side that a fractional delay needs

struct Ring {
    explicit Ring(std::size_t length) : twice(2 * length), size(length) {}
    void put(std::size_t at, float value) { twice[at % size] = twice[at % size + size] = value; }
    // up to `end`, not with it
    std::span<const float> upTo(std::size_t end, std::size_t length) const {
        return std::span(twice).subspan((end - 1) % size + size + 1 - length, length);
    }
    std::vector<float> twice;
    std::size_t size;
};

struct Repeat {
    double likeness = 0.0, lag = 0.0, gain = 0.0;
    double louder = 0.0;  // than the present, what is new of the past
};

// What the present says of an echo.
enum class Says { nothing, there, missing };

struct NamedEcho {
    double delay = 0.0, gain = 0.0, feedback = usualFeedback, likeness = 0.0;
    std::size_t stroke = 0;
};

// Windowed sinc for a delay's fraction: taps of the samples from floor(delay) - edge + 1 back on.
struct Delay {
    void set(double delay) {
        whole = static_cast<std::size_t>(delay);
        const double part = delay - std::floor(delay);
        double sum = 0.0;
        for (std::size_t k = 0; k < taps.size(); ++k) {
            const double at = static_cast<double>(k) - static_cast<double>(edge) + 1.0 - part;
            const double x = std::numbers::pi * at, window = std::cos(x / (2.0 * static_cast<double>(edge)));
            const double tap = std::abs(at) < 1e-9 ? 1.0 : std::sin(x) / x * window * window;
            sum += tap;
            taps[k] = static_cast<float>(tap);
        }
        for (float& tap : taps) tap = static_cast<float>(tap / sum);
    }
    // of sample `at`
    float of(const Ring& ring, std::size_t at) const {
        const auto samples = ring.upTo(at + edge - whole, taps.size());
        float sum = 0.0f;
        for (std::size_t k = 0; k < taps.size(); ++k) sum += taps[taps.size() - 1 - k] * samples[k];
        return sum;
    }
    std::size_t whole = 0;
    std::array<float, 2 * edge> taps{};
};

struct Tracing {
    std::size_t count = 0;
    std::array<std::size_t, 4> strokes{};
    std::size_t strokeCount = 0;
    std::optional<NamedEcho> echo;
    bool believed = false, begun = false;
    int confirmed = 0, missing = 0;
    double fade = 0.0;  // how much of the echo is taken out
    double left = 0.0;  // mean square that the predictor leaves of what it learned from
};

}  // namespace

struct EchoRemover::State : Tracing {
    explicit State(const Config& config)
        : rate(config.sampleRate), step(samplesOf(stepSeconds)), learnLength(samplesOf(learnSeconds)),
          likeLength(samplesOf(likeSeconds)), raw(samplesOf(heldSeconds)), line(raw.size), clean(raw.size),
          coarse({rate, config.lowest, config.highest, Seconds(pitchSeconds)}), past(likeLength),
          present(likeLength + step + 2 * edge), cleaned(learnLength + likeLength), sums(step + 2 * edge + 1) {}

    std::size_t samplesOf(double seconds) const { return static_cast<std::size_t>(std::lround(seconds * rate)); }

    // Levinson's recursion on the autocorrelation.
    void learn(std::span<const float> samples) noexcept {
        std::array<double, order + 1> r{};
        for (std::size_t begin = 0; begin < samples.size(); begin += sumBlock) {
            std::array<float, order + 1> part{};
            const std::size_t end = std::min(samples.size(), begin + sumBlock);
            for (std::size_t n = begin; n < end && n + order < samples.size(); ++n)
                for (std::size_t l = 0; l <= order; ++l) part[l] += samples[n] * samples[n + l];
            for (std::size_t n = std::max(begin, samples.size() - order); n < end; ++n)
                for (std::size_t l = 0; n + l < samples.size(); ++l) part[l] += samples[n] * samples[n + l];
            for (std::size_t l = 0; l <= order; ++l) r[l] += static_cast<double>(part[l]);
        }
        r[0] = r[0] * (1.0 + 1e-6) + 1e-12;
        std::array<double, order + 1> a{1.0}, before{};
        double error = r[0];
        for (std::size_t m = 1; m <= order; ++m) {
            double sum = 0.0;
            for (std::size_t k = 0; k < m; ++k) sum += a[k] * r[m - k];
            const double reflection = -sum / error;
            before = a;
            for (std::size_t k = 1; k <= m; ++k) a[k] = before[k] + reflection * before[m - k];
            error *= 1.0 - reflection * reflection;
        }
        left = error / static_cast<double>(samples.size());
        for (std::size_t k = 0; k <= order; ++k) filter[k] = static_cast<float>(a[k]);
    }

    void whiten(std::size_t begin, std::span<float> out) const noexcept {
        const auto in = raw.upTo(begin + out.size(), out.size() + order);
        std::fill(out.begin(), out.end(), 0.0f);
        for (std::size_t k = 0; k <= order; ++k)
            for (std::size_t i = 0; i < out.size(); ++i) out[i] += filter[k] * in[i + order - k];
    }

    // Of the stretch of the past from `a` on in the present from `b` on, up to `slack` samples later; the predictor has
    // been learned and the present whitened.
    Repeat repeatOf(std::size_t a, std::size_t b, std::size_t slack, std::span<const float> now) noexcept {
        whiten(a, past);
        std::fill_n(sums.begin(), slack + 2 * edge + 1, 0.0f);
        double own = 0.0;
        for (std::size_t i = 0; i < past.size(); ++i) {
            own += static_cast<double>(past[i]) * static_cast<double>(past[i]);
            for (std::size_t l = 0; l < slack + 2 * edge; ++l) sums[l] += past[i] * now[i + l];
        }
        if (own <= 0.0) return {};
        Repeat best;
        double energy = 0.0;
        for (std::size_t i = 0; i < past.size(); ++i) energy += square(now[i]);
        best.louder = std::sqrt(own / (energy + 1e-20));
        std::array<double, 3> last{};
        for (std::size_t l = 0; l < slack + 2 * edge; ++l) {
            last = {last[1], last[2], static_cast<double>(sums[l]) / std::sqrt(own * energy + 1e-20)};
            energy += square(now[std::min(now.size() - 1, l + past.size())]) - square(now[l]);
            if (l < 2 || last[1] < best.likeness || last[1] < last[0] || last[1] < last[2]) continue;
            const double part = 0.5 * (last[0] - last[2]) / (last[0] - 2.0 * last[1] + last[2] - 1e-12);
            best = {last[1], static_cast<double>(b - a) + static_cast<double>(l) - 1.0 - edge + part,
                    static_cast<double>(sums[l - 1]) / own, best.louder};
        }
        return best;
    }
    static double square(float x) { return static_cast<double>(x) * static_cast<double>(x); }

    float push(float sample) noexcept {
        const std::size_t at = count++;
        raw.put(at, sample);
        begun = false;
        float out = sample;
        if (believed || fade > 0.0) {
            fade = std::clamp(fade + (believed ? 1.0 : -1.0) / (fadeSeconds * rate), 0.0, 1.0);
            out -= static_cast<float>(fade) * goOn(at);
            if (fade == 0.0) echo.reset();
        }
        if (count % step == 0) look();
        return out;
    }

    float goOn(std::size_t at) noexcept {
        const float delayed = delay.of(line, at), echoed = static_cast<float>(echo->gain) * delayed;
        const float x = *(raw.upTo(at + 1, 1).begin()) - echoed;
        clean.put(at, x);
        line.put(at, x + static_cast<float>(echo->feedback) * delayed);
        return echoed;
    }

    void look() noexcept {
        lookForStrokes();
        if (!echo || (fade > 0.0 && !believed)) return;
        const Says says = ask();
        if (says == Says::nothing) {
            if (!believed) confirmed = 0;
        } else {
            confirmed = says == Says::there ? confirmed + 1 : 0;
            missing = says == Says::missing ? missing + 1 : 0;
        }
        if (believed) believed = missing < stepsToForget;
        else if (confirmed >= stepsToBelieve) believe();
        else if (missing >= stepsToForget || count > echo->stroke + samplesOf(candidateLasts)) echo.reset();
    }

    void lookForStrokes() noexcept {
        const std::size_t slack = step, behind = likeLength + slack + edge;
        if (count < behind + learnLength + order + 2 * edge) return;
        const std::size_t b = count - behind;
        learned = false;
        for (std::size_t i = 0; i < std::min(strokeCount, strokes.size()); ++i) {
            const Repeat repeat = repeatOfStroke(strokes[i], b);
            if (believed || fade > 0.0 || repeat.likeness < alike || repeat.gain > loudest || repeat.gain < softest)
                continue;
            if (echo && strokes[i] <= echo->stroke && repeat.gain * repeat.likeness <= echo->gain * echo->likeness)
                continue;
            echo = {repeat.lag, repeat.gain, usualFeedback, repeat.likeness, strokes[i]};
            delay.set(repeat.lag);
        }
        if (!echo) return;
        // the stroke's repeat is repeated: the delay's feedback
        const Repeat again = repeatOfStroke(echo->stroke + delay.whole, b);
        if (again.likeness > alike && std::abs(again.lag - echo->delay) < sameLag)
            echo->feedback = std::min(mostFeedback, again.gain);
    }

    Repeat repeatOfStroke(std::size_t stroke, std::size_t b) noexcept {
        const std::size_t early = samplesOf(earlySeconds);
        if (stroke < early + order + 1) return {};
        const std::size_t a = stroke - early;
        if (b < a + samplesOf(shortestDelay) || b > a + samplesOf(longestDelay)) return {};
        if (!learned) {
            learned = true;
            learn(raw.upTo(b, learnLength));
            whiten(b - edge, present);
            double mean = 0.0;
            for (float x : present) mean += square(x);
            isNew = mean > newTimes * left * static_cast<double>(present.size());
        }
        return isNew ? repeatOf(a, b, step, present) : Repeat{};
    }

    bool strokeWithin(std::size_t from, std::size_t to) const noexcept {
        return std::any_of(strokes.begin(),
                           strokes.begin() + static_cast<std::ptrdiff_t>(std::min(strokeCount, strokes.size())),
                           [&](std::size_t stroke) { return stroke >= from && stroke < to; });
    }

    // Whether the present holds a pitch that the string has left, as late and as loud as the stroke's repeat; that it
    // does not shows only where the past pitch would be loud enough.
    Says ask() noexcept {
        const auto lag = static_cast<std::size_t>(echo->delay);
        const std::size_t b = count - likeLength - edge, a = b - lag;
        if (count < learnLength + 2 * likeLength + lag + order || a < echo->stroke + samplesOf(afterStroke))
            return Says::nothing;
        if (strokeWithin(a - samplesOf(afterStroke), a + likeLength)) return Says::nothing;
        const std::size_t from = count - edge - cleaned.size();
        for (std::size_t i = 0; i < cleaned.size(); ++i)
            cleaned[i] = *raw.upTo(from + i + 1, 1).begin() - static_cast<float>(echo->gain) * delay.of(raw, from + i);
        const auto here = coarse.find(std::span(cleaned).last(coarse.longestSamples()), std::nullopt);
        const auto there = coarse.find(raw.upTo(count - edge - lag, coarse.longestSamples()), std::nullopt);
        if (!here || !there || here->clarity < pitchClear || there->clarity < pitchClear) return Says::nothing;
        if (repeatsAfter(there->pitch) > leftAlike) return Says::nothing;
        const std::span<float> now = std::span(present).first(likeLength + 2 * edge + 1);
        learn(cleaned);
        whiten(b - edge, now);
        const Repeat repeat = repeatOf(a, b, 1, now);
        if (repeat.likeness > surelyAlike && std::abs(repeat.lag - echo->delay) < sameLag
            && repeat.gain < asLoud * echo->gain && repeat.gain > echo->gain / asLoud)
            return Says::there;
        // A pitch that the present does not hold is new to what is learned from it.
        learn(raw.upTo(count - edge, cleaned.size()));
        whiten(b - edge, now);
        const Repeat none = repeatOf(a, b, 1, now);
        const double asked = echo->gain * none.louder;
        return asked > surelyAlike && none.likeness < missingLikeness * std::min(1.0, asked) ? Says::missing
                                                                                             : Says::nothing;
    }

    // How alike the newest cleaned sound is to itself some periods of a pitch before: 1 where it has that pitch.
    double repeatsAfter(Hertz pitch) const noexcept {
        const double periods = std::max(1.0, std::floor(0.5 * pitchSeconds * pitch.value));
        const std::size_t lag = samplesOf(periods / pitch.value);
        const auto now = std::span(cleaned).last(coarse.longestSamples() / 2);
        const auto before = std::span(cleaned).subspan(cleaned.size() - now.size() - lag, now.size());
        double product = 0.0, energy = 0.0, energyBefore = 0.0;
        for (std::size_t i = 0; i < now.size(); ++i) {
            product += static_cast<double>(now[i]) * static_cast<double>(before[i]);
            energy += square(now[i]);
            energyBefore += square(before[i]);
        }
        return product / std::sqrt(energy * energyBefore + 1e-20);
    }

    void believe() noexcept {
        believed = begun = true;
        missing = 0;
        const std::size_t first = count - std::min(count, raw.size - 1);
        const std::size_t reach = delay.whole + edge + 1;
        for (std::size_t at = first; at < count; ++at) {
            const float x = *raw.upTo(at + 1, 1).begin();
            line.put(at, x), clean.put(at, x);
            if (at > first + reach) goOn(at);
        }
    }

    double rate;
    std::size_t step, learnLength, likeLength;
    Ring raw, line, clean;
    CoarsePeriod coarse;
    Delay delay;
    std::array<float, order + 1> filter{};
    std::vector<float> past, present, cleaned, sums;
    bool learned = false, isNew = false;  // of this step
};

EchoRemover::EchoRemover(const Config& config) : state(std::make_unique<State>(config)) {}
EchoRemover::~EchoRemover() = default;
EchoRemover::EchoRemover(EchoRemover&&) noexcept = default;
EchoRemover& EchoRemover::operator=(EchoRemover&&) noexcept = default;

float EchoRemover::push(float sample) noexcept { return state->push(sample); }

void EchoRemover::struck(std::size_t sample) noexcept {
    state->strokes[state->strokeCount++ % state->strokes.size()] = sample;
}

bool EchoRemover::begun() const noexcept { return state->begun; }

std::span<const float> EchoRemover::newest(std::size_t samples) const noexcept {
    return state->clean.upTo(state->count, samples);
}

void EchoRemover::reset() noexcept {
    static_cast<Tracing&>(*state) = {};
    std::ranges::fill(state->raw.twice, 0.0f);
}

}  // namespace landfall
