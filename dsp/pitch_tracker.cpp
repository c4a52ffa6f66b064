#include "dsp/pitch_tracker.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "dsp/decimator.h"
#include "dsp/partial_fit.h"
#include "dsp/period_finder.h"

namespace landfall {

namespace {

constexpr double silence = -140.0;

int decimationFor(double rate) { return std::max(1, static_cast<int>(std::lround(rate / 16000.0))); }

double decibels(double meanSquare) { return meanSquare > 0.5e-14 ? 10.0 * std::log10(2.0 * meanSquare) : silence; }

}  // namespace

struct PitchTracker::State {
    explicit State(const Config& given)
        : config(given),
          decimator(decimationFor(given.sampleRate)),
          rate(given.sampleRate / decimator.factor()),
          hop(std::max(1, static_cast<int>(std::floor(0.0053 * rate)))),
          finder({.windowSamples = static_cast<int>(0.045 * rate),
                  .shortestLag = std::max(2, static_cast<int>(rate / given.highest.value)),
                  .longestLag = static_cast<int>(rate / given.lowest.value) + 1}),
          fit({.sampleRate = rate, .longestWindow = static_cast<int>(0.085 * rate), .mostPartials = 8}) {
        history.assign(2 * static_cast<std::size_t>(0.16 * rate), 0.0f);
        provisional.reserve(maxBlockSamples);
        settled.reserve(maxBlockSamples);
        onsets.reserve(maxBlockSamples);
        clear();
    }

    void clear() {
        decimator.reset();
        std::fill(history.begin(), history.end(), 0.0f);
        filled = 0;
        taken = 0;
        untilHop = hop;
        dcIn = dcOut = 0.0f;
        floor = 0.0;
        floorKnown = false;
        open = false;
        tracked = false;
        weak = 0;
        good = 0;
        note = {};
        inharmonicity = 1e-4;
        inharmonicitySd = 2e-4;
        edges.fill(silence);
        lastOnset = -1.0;
        estimate = {};
        hintGiven = {};
    }

    std::span<const float> newest(int samples) const {
        const std::size_t half = history.size() / 2;
        return {history.data() + write + half - static_cast<std::size_t>(samples), static_cast<std::size_t>(samples)};
    }

    void push(float sample) {
        const std::size_t half = history.size() / 2;
        history[write] = sample;
        history[write + half] = sample;
        write = (write + 1) % half;
    }

    void hopDone();
    void findOnset(double now);
    std::optional<PartialFit::Reading> refine(int windowSamples, double coarse, const PartialFit::String& warm, bool warmValid);

    Config config;
    Decimator decimator;
    double rate;
    int hop;
    PeriodFinder finder;
    PartialFit fit;
    std::vector<float> history;
    std::size_t write = 0;
    long filled = 0;
    long taken = 0;  // input samples
    int untilHop = 0;
    float dcIn = 0.0f, dcOut = 0.0f;
    double floor = 0.0;
    bool floorKnown = false, open = false, tracked = false;
    int weak = 0, good = 0;
    PartialFit::String note;
    double inharmonicity = 1e-4, inharmonicitySd = 2e-4;
    std::array<double, 16> edges{};
    std::size_t edgeAt = 0;
    double lastOnset = -1.0;
    struct {
        bool valid = false;
        double cents = 0.0, speed = 0.0;
        double pcc = 0.0, pcs = 0.0, pss = 0.0;
    } estimate;
    StringHint hintGiven;
    std::vector<PitchFrame> provisional, settled;
    std::vector<Onset> onsets;
};

void PitchTracker::State::findOnset(double now) {
    // A pick stroke throws energy into the upper partials: the level of the differenced signal over 5 ms against the highest of the
    // 45 ms before.
    const auto samples = newest(hop + 1);
    double sum = 0.0;
    for (std::size_t i = 1; i < samples.size(); ++i) {
        const double d = static_cast<double>(samples[i]) - samples[i - 1];
        sum += d * d;
    }
    const double level = decibels(sum / hop);
    const double before = *std::max_element(edges.begin(), edges.begin() + 9);
    const double rise = level - before;
    std::rotate(edges.rbegin(), edges.rbegin() + 1, edges.rend());
    edges[0] = level;
    if (rise > 5.0 && level > -95.0 && floorKnown && now - lastOnset > 0.06) {
        lastOnset = now;
        const double at = now - 0.5 * hop / rate - decimator.delaySamples() / config.sampleRate;
        onsets.push_back({Seconds(now), Seconds(std::max(0.0, at)), Decibels(rise)});
    }
}

std::optional<PartialFit::Reading> PitchTracker::State::refine(int windowSamples, double coarse, const PartialFit::String& warm,
                                                               bool warmValid) {
    const auto window = newest(windowSamples);
    const auto partialsFor = [&](double f1, int most) {
        const int below = static_cast<int>(0.36 * rate / f1);
        return std::clamp(std::min(most, below), 1, 8);
    };
    const double bSd = tracked ? inharmonicitySd : 2e-4;
    std::optional<PartialFit::Reading> best;
    const auto attempt = [&](double f1, double glide, bool staged) {
        PartialFit::String start{f1, glide, inharmonicity};
        PartialFit::Reading reading{start, 1e9, 1.0};
        if (staged) {
            reading = fit.fit(window, start, partialsFor(f1, 2), 1e-7, 2);
            reading.string.inharmonicity = inharmonicity;
            reading = fit.fit(window, reading.string, partialsFor(f1, 4), bSd, 1);
            reading.string.inharmonicity = inharmonicity;
        } else {
            reading.string = start;
        }
        reading = fit.fit(window, reading.string, partialsFor(f1, 8), bSd, staged ? 2 : 1);
        if (!best || reading.residual < best->residual) best = reading;
    };
    if (warmValid) attempt(warm.f1, warm.glide, false);
    const bool far = best && coarse > 0.0 && std::abs(1200.0 * std::log2(best->string.f1 / coarse)) > 60.0;
    if (!best || best->residual > 0.02 || far) {
        if (coarse > 0.0) attempt(coarse, 0.0, true);
        if (warmValid && best->residual > 0.05) attempt(warm.f1, 0.0, true);
    }
    return best;
}

void PitchTracker::State::hopDone() {
    const double now = static_cast<double>(taken) / config.sampleRate;
    const double inputDelay = decimator.delaySamples() / config.sampleRate;
    findOnset(now);

    const auto recent = newest(static_cast<int>(0.012 * rate));
    double energy = 0.0;
    for (float x : recent) energy += static_cast<double>(x) * x;
    const double level = decibels(energy / static_cast<double>(recent.size()));

    PitchFrame now1{Seconds(now), Seconds(now), std::nullopt, Cents(0.0), Decibels(level), 0.0};
    PitchFrame past{Seconds(now), Seconds(now - inputDelay - 0.0275), std::nullopt, Cents(0.0), Decibels(level), 0.0};
    if (!floorKnown) {
        floor = level;
        floorKnown = filled >= static_cast<long>(0.02 * rate);
    }
    const double openAt = std::max(-72.0, floor + 9.0), closeAt = std::max(-84.0, floor + 3.0);
    const auto period = finder.find(newest(static_cast<int>(finder.inputSamples())));
    const double coarse = rate / period.samples;
    const bool periodic = period.aperiodicity < (open ? 0.35 : 0.2) && coarse >= config.lowest.value && coarse <= config.highest.value;
    if (!open && level > openAt && periodic) {
        if (++good >= 2) {
            open = true;
            tracked = false;
            weak = 0;
            inharmonicity = hintGiven.inharmonicity.value_or(1e-4);
            inharmonicitySd = hintGiven.inharmonicity ? 0.5 * inharmonicity : 2e-4;
        }
    } else if (!open) {
        good = 0;
        floor = level < floor ? 0.7 * floor + 0.3 * level : floor + std::min(0.05, 0.02 * (level - floor));
    }
    if (open) {
        const double f = tracked ? note.f1 : coarse;
        const int window = std::min(static_cast<int>(std::max(0.050, 3.4 / f) * rate), static_cast<int>(0.085 * rate));
        const auto reading = refine(window, periodic ? coarse : 0.0, note, tracked);
        const bool fits = reading && reading->residual < 0.4 && reading->sdCents < 12.0 && reading->string.f1 > config.lowest.value &&
                          reading->string.f1 < config.highest.value;
        if (fits) {
            weak = 0;
            note = reading->string;
            tracked = true;
            const double b = note.inharmonicity;
            if (reading->sdCents < 1.0 && std::abs(note.glide) < 0.05) {
                inharmonicity += 0.08 * (b - inharmonicity);
                inharmonicitySd = std::max(0.15 * inharmonicity, 0.97 * inharmonicitySd);
            }
            past.pitch = Hertz(note.f1);
            past.sd = Cents(std::max(0.05, reading->sdCents));
            past.inharmonicity = inharmonicity;
            past.centre = Seconds(now - inputDelay - 0.5 * window / rate);
        } else {
            ++weak;
            tracked = tracked && weak < 4;
        }
        if (level < closeAt || weak > 6) {
            open = false;
            good = 0;
            tracked = false;
            estimate.valid = false;
        }
    }
    settled.push_back(past);

    if (open && tracked) {
        const int shortWindow = std::min(static_cast<int>(std::max(0.016, 2.6 / note.f1) * rate), static_cast<int>(0.05 * rate));
        const auto window = newest(shortWindow);
        const double ahead = (past.pitch ? now - inputDelay - 0.5 * shortWindow / rate - past.centre.value : 0.0);
        PartialFit::String start = note;
        start.f1 *= 1.0 + std::clamp(start.glide * ahead, -0.06, 0.06);
        start.inharmonicity = inharmonicity;
        const int partials = std::clamp(std::min(5, static_cast<int>(0.36 * rate / start.f1)), 1, 5);
        const auto reading = fit.fit(window, start, partials, 0.2 * inharmonicity + 1e-6, 2);
        const double dt = hop / rate;
        const double measured = 1200.0 * std::log2(reading.string.f1);
        const bool usable = reading.residual < 0.5 && std::abs(measured - 1200.0 * std::log2(start.f1)) < 300.0;
        auto& e = estimate;
        if (!e.valid || (usable && std::abs(measured - e.cents) > 150.0)) {
            e.valid = true;
            e.cents = usable ? measured : 1200.0 * std::log2(start.f1);
            e.speed = 1200.0 / std::numbers::ln2 * note.glide;
            e.pcc = 25.0;
            e.pcs = 0.0;
            e.pss = 1e5;
        } else {
            constexpr double q = 3e6;  // cents^2 / s^3, white acceleration
            e.cents += e.speed * dt;
            e.pcc += 2.0 * dt * e.pcs + dt * dt * e.pss + q * dt * dt * dt / 3.0;
            e.pcs += dt * e.pss + q * dt * dt / 2.0;
            e.pss += q * dt;
            if (usable) {
                const double r = std::max(0.3, reading.sdCents) * std::max(0.3, reading.sdCents);
                const double gain = e.pcc / (e.pcc + r), gainSpeed = e.pcs / (e.pcc + r);
                const double miss = measured - e.cents;
                e.cents += gain * miss;
                e.speed += gainSpeed * miss;
                e.pss -= gainSpeed * e.pcs;
                e.pcs *= 1.0 - gain;
                e.pcc *= 1.0 - gain;
            }
        }
        const double lag = inputDelay + 0.5 * shortWindow / rate;
        now1.pitch = Hertz(std::exp2((e.cents + e.speed * lag) / 1200.0));
        now1.sd = Cents(std::sqrt(e.pcc + lag * lag * e.pss));
        now1.inharmonicity = inharmonicity;
    }
    provisional.push_back(now1);
}

PitchTracker::PitchTracker(const Config& config) : state(std::make_unique<State>(config)) {}
PitchTracker::~PitchTracker() = default;
PitchTracker::PitchTracker(PitchTracker&&) noexcept = default;
PitchTracker& PitchTracker::operator=(PitchTracker&&) noexcept = default;

PitchTracker::Output PitchTracker::process(std::span<const float> samples) noexcept {
    State& s = *state;
    s.provisional.clear();
    s.settled.clear();
    s.onsets.clear();
    for (float raw : samples) {
        ++s.taken;
        const float sample = std::isfinite(raw) ? std::clamp(raw, -4.0f, 4.0f) : 0.0f;
        float kept = 0.0f;
        if (!s.decimator.push(sample, kept)) continue;
        s.dcOut = kept - s.dcIn + 0.993f * s.dcOut;
        s.dcIn = kept;
        s.push(s.dcOut);
        ++s.filled;
        if (--s.untilHop == 0) {
            s.untilHop = s.hop;
            s.hopDone();
        }
    }
    return {s.provisional, s.settled, s.onsets};
}

void PitchTracker::hint(const StringHint& hint) noexcept { state->hintGiven = hint; }
void PitchTracker::reset() noexcept { state->clear(); }

}  // namespace landfall
