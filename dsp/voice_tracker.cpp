#include "dsp/voice_tracker.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

#include "dsp/statistics.h"
#include "dsp/stiff_string.h"

namespace landfall {

namespace {

using Tones = std::vector<JointFit::Tone>;

// Where nothing is known of a string: B near the middle of a guitar's strings at that pitch (from memory), to a factor
// of two.
constexpr double usualB = 1.2e-4, usualAt = 261.6, stiffnessSd = 0.7;
constexpr double startSd = 40.0;                            // cents: a finger is so far from its note at most ...
constexpr double farthest = 160.0;                          // ... or on a fret beside it
constexpr double stepSd = 15.0;                             // cents: from what the frame before foretells
constexpr double slopeSd = 1500.0;                          // cents per second, from frame to frame
constexpr double silentOwn = 0.001;                         // of all power: less is no string
constexpr double faintOwn = 0.01;                           // a string that need not be waited for
constexpr double settles = 0.150;                           // s: a stop is stood on for so long
constexpr double looksAhead = 0.220;                        // s: no frame depends on what comes later than that
constexpr double nearby = 60.0;                             // cents: a string that has come, or not yet left
constexpr double leavesWith = 0.15;                         // share of what moving strings explain: fainter may stray
constexpr std::size_t roughPartials = 4, allPartials = 12;  // where a pitch is looked for, where it is known
// Residuals, shares of the power. Strings are lost where so much more is left than while they stood, or nearly all; a
// stop explains the sound better where it leaves so much of what the last frame left; it has been reached where hardly
// more is left than will soon be. Strings that stand stay so while no more is left than before, or next to nothing.
constexpr double lostBy = 0.3, lostAt = 0.85, betterBy = 0.6, reachedTimes = 3.0, reachedBy = 0.08;
constexpr double calmTimes = 1.5, calmBy = 0.005, longerTimes = 1.3, longerBy = 0.02;
// What is foretold backwards fails where it misses more than twice the fit's own residual and a little.
constexpr double foretoldTimes = 2.0, foretoldBy = 0.06;
constexpr double stiffestLearned = 0.002;  // B that a slide up the neck may give a string
constexpr double stillBelow = 60.0;        // cents per second: a string that stands

constexpr std::size_t shortest = 320;  // samples of a fit
// Shares of the power: less is no note beside another; nor is there any where the known one explains less, with what it
// shares and without.
constexpr double besideOwn = 0.022, besideOverRest = 0.3, besideFirst = 0.02, knownAll = 0.1, knownOwn = 0.05;
// Hz: a note's partials swell and shift so fast at most by what stands between string and computer (common practice: a
// tremolo beats 3 to 10 times a second). What is explained by that is no second string.
constexpr double swellsAtMost = 10.0;
// Of two strings in unison: cents that the bend may drag the held one along, and how many samples of the residual count
// as one that is independent.
constexpr double heldSd = 2.5, independent = 25.0;
// Of the rough fits, those that came within so much (cents) of a better one are left out, and all but so many.
constexpr double sameFit = 0.3;
constexpr std::size_t mostRefined = 12;

// When a string began: of stretches with half of it in them a quarter of the power is explained; those that it only
// fills in part, and what one that is silent may explain of what it soon does.
constexpr double lookedEach = 0.012;  // s
constexpr double halfInside = 0.25, silentBefore = 0.12;
constexpr std::size_t straddlingFrames = 3, knownFrames = 5;

// Which of two strings holds the note that the other is bent to.
std::size_t heldOf(const VoiceTracker::Stop& asked, const VoiceTracker::Frame& apart) {
    const auto way = [&](std::size_t j) { return std::abs(interval(apart.voices[j].pitch, asked.pitches[j]).value); };
    return way(0) < way(1) ? 0 : 1;
}

JointFit::Tone toneAt(Hertz pitch, double sd) { return {pitch, 0.0, usualB * pitch.value / usualAt, Cents(sd)}; }

// Mean square of a sine of this frequency in the samples.
double powerAt(std::span<const float> samples, double hertz, double sampleRate) {
    const double turn = 2.0 * std::numbers::pi * hertz / sampleRate;
    const double turnRe = std::cos(turn), turnIm = std::sin(turn);
    double re = 1.0, im = 0.0, cosine = 0.0, sine = 0.0;
    for (const float sample : samples) {
        cosine += static_cast<double>(sample) * re;
        sine += static_cast<double>(sample) * im;
        const double next = re * turnRe - im * turnIm;
        im = re * turnIm + im * turnRe;
        re = next;
    }
    const double count = static_cast<double>(samples.size());
    return 2.0 * (cosine * cosine + sine * sine) / (count * count);
}

}  // namespace

struct VoiceTracker::Fitted {
    JointFit::Result result;
    double centre = 0.0;
};

// Of rough fits of two strings, the best first, those that came to places of their own.
std::vector<VoiceTracker::Fitted> VoiceTracker::apartFrom(std::span<const Fitted> roughs) {
    std::vector<Fitted> kept;
    const auto alike = [](const Fitted& one, const Fitted& other) {
        return std::ranges::all_of(std::array<std::size_t, 2>{0, 1}, [&](std::size_t j) {
            return std::abs(interval(one.result.strings[j].tone.pitch, other.result.strings[j].tone.pitch).value)
                   < sameFit;
        });
    };
    for (const Fitted& each : roughs)
        if (kept.size() < mostRefined
            && std::ranges::none_of(kept, [&](const Fitted& other) { return alike(each, other); }))
            kept.push_back(each);
    return kept;
}

struct VoiceTracker::State {
    Config config;
    JointFit fit;
    SoundSpan sound;
    double begin = 0.0, end = 0.0;  // s: what may be fitted
    struct Weighed {
        double stroke = 0.0;
        std::vector<Hertz> asked;
        Fitted found;
    };
    std::optional<Weighed> weighed{};  // by the last question for a misfit

    explicit State(const Config& given)
        : config(given),
          fit({.sampleRate = given.sampleRate, .longestInput = static_cast<std::size_t>(0.3 * given.sampleRate)}) {}

    // The middle of the first stretch in which all strings sound.
    double beginsAt(double stroke) const { return stroke + config.strum + 0.5 * config.steady; }

    // Where a moment lies within the samples, which may be between two.
    double sampleAt(double moment) const { return (moment + sound.later) * config.sampleRate; }

    // About a moment, as long as wanted where there is so much.
    std::span<const float> stretch(double centre, double length) const {
        const double from = std::max(begin, centre - 0.5 * length), to = std::min(end, centre + 0.5 * length);
        const auto first = static_cast<std::size_t>(std::max(0.0, sampleAt(from)));
        const auto last = std::min(sound.samples.size(), static_cast<std::size_t>(std::max(0.0, sampleAt(to))));
        return last > first ? sound.samples.subspan(first, last - first) : std::span<const float>();
    }

    // The strings about a moment.
    Fitted at(double centre, double length, const Tones& start, std::size_t partials, int steps, double slopes,
              double stiffness) {
        Fitted fitted{{}, centre};
        const auto heard = stretch(centre, length);
        if (heard.size() < shortest) return fitted;
        const auto first = static_cast<double>(heard.data() - sound.samples.data());
        fitted.result = fit.fit(heard, {.start = start,
                                        .moment = sampleAt(centre) - first,
                                        .partials = partials,
                                        .steps = steps,
                                        .slopeSd = slopes,
                                        .inharmonicitySd = stiffness});
        return fitted;
    }

    Tones tonesOf(const JointFit::Result& result, std::size_t strings, double sd) const {
        Tones tones;
        for (std::size_t j = 0; j < strings; ++j) {
            tones.push_back(result.strings[j].tone);
            tones.back().pitchSd = Cents(sd);
        }
        return tones;
    }

    bool near(const JointFit::Result& result, const Stop& asked) const {
        for (std::size_t j = 0; j < asked.pitches.size(); ++j)
            if (std::abs(interval(asked.pitches[j], result.strings[j].tone.pitch).value) > farthest) return false;
        return true;
    }

    // Offsets from the asked pitches to begin a search at, in cents.
    static std::vector<std::vector<double>> starts(std::size_t strings) {
        if (strings > 3) return startsOfMany(strings);
        std::vector<std::vector<double>> all;
        const std::vector<double> each =
            strings == 2 ? std::vector<double>{0, -36, 36, -100, 100} : std::vector<double>{0, -30, 30};
        std::vector<std::size_t> digit(strings, 0);
        for (;;) {
            std::vector<double> offsets;
            for (const std::size_t d : digit) offsets.push_back(each[d]);
            all.push_back(offsets);
            std::size_t j = 0;
            while (j < strings && ++digit[j] == each.size()) digit[j++] = 0;
            if (j == strings) break;
        }
        if (strings > 2)
            for (std::size_t j = 0; j < strings; ++j)
                for (const double fret : {-100.0, 100.0}) {
                    all.emplace_back(strings, 0.0);
                    all.back()[j] = fret;
                }
        return all;
    }

    // One string after the other, and all of them.
    static std::vector<std::vector<double>> startsOfMany(std::size_t strings) {
        std::vector<std::vector<double>> all(1, std::vector<double>(strings, 0.0));
        for (const double offset : {-30.0, 30.0, -100.0, 100.0}) {
            all.emplace_back(strings, offset);
            for (std::size_t j = 0; j < strings; ++j) {
                all.emplace_back(strings, 0.0);
                all.back()[j] = offset;
            }
        }
        return all;
    }

    // The asked notes as they were found about a moment, from every start.
    std::optional<Fitted> search(double centre, const Stop& asked, const Tones& known) {
        std::optional<Fitted> best;
        double least = 2.0;
        for (const auto& offsets : starts(asked.pitches.size())) {
            Tones tones;
            for (std::size_t j = 0; j < asked.pitches.size(); ++j) {
                tones.push_back(known.empty() ? toneAt(asked.pitches[j], startSd) : known[j]);
                tones[j].pitch = Hertz(asked.pitches[j].value * std::exp2(offsets[j] / 1200.0));
            }
            const auto found = at(centre, config.moving, tones, roughPartials, 3, 0.0, 0.0);
            if (!found.result.usable || !near(found.result, asked)) continue;
            double away = 0.0;
            for (const double offset : offsets) away += std::abs(offset);
            const double cost = found.result.residual * (1.0 + 0.0005 * away);
            if (cost < least) {
                least = cost;
                best = found;
            }
        }
        return best ? std::optional(withStiffness(*best, asked)) : best;
    }

    // The strings' stiffness is not known: it is looked for from three sides.
    Fitted withStiffness(const Fitted& found, const Stop& asked) {
        Fitted best = found;
        double least = 2.0;
        for (const double times : {1.0, 0.3, 3.0}) {
            Tones tones = tonesOf(found.result, asked.pitches.size(), startSd);
            for (auto& tone : tones) tone.inharmonicity *= times;
            const auto rough = at(found.centre, config.steady, tones, 6, 3, slopeSd, stiffnessSd);
            if (!rough.result.usable) continue;
            const auto finer = at(found.centre, config.steady, tonesOf(rough.result, asked.pitches.size(), startSd), 12,
                                  4, slopeSd, stiffnessSd);
            if (!finer.result.usable || !near(finer.result, asked) || finer.result.residual >= least) continue;
            best = finer;
            least = finer.result.residual;
        }
        return best;
    }

    static Frame frameOf(const Fitted& fitted, std::size_t strings) {
        Frame frame;
        frame.time = fitted.centre;
        frame.residual = fitted.result.residual;
        for (std::size_t j = 0; j < strings; ++j) {
            const auto& string = fitted.result.strings[j];
            frame.voices[j] = {.pitch = string.tone.pitch,
                               .sd = string.sd,
                               .inharmonicity = string.tone.inharmonicity,
                               .own = string.own,
                               .clear = string.clear,
                               .unshared = string.unshared,
                               .power = string.power};
        }
        return frame;
    }
};

// The strings of one stroke, from stop to stop.
class VoiceTracker::Course {
public:
    Course(State& given, double struck, std::vector<Stop> all)
        : s(given), stroke(struck), stops(std::move(all)), strings(stops.front().pitches.size()) {}

    // As far as the sound goes; where it is not over, only as far as nothing that comes can change.
    std::span<const Frame> follow(SoundSpan sound, double end, bool over) {
        s.sound = sound;
        s.begin = stroke + s.config.attack;
        s.end = end;
        const double last = end - (over ? 0.4 * s.config.moving : looksAhead);
        if (!begun && (over || s.beginsAt(stroke) < last)) start();
        for (; begun && !frames.empty() && centre < last; centre += s.config.hop) {
            if (!lost) goOn();
            if (lost || !calm) slidTo();
        }
        return frames;
    }

private:
    void start() {
        begun = true;
        centre = s.beginsAt(stroke);
        const auto weighed = std::exchange(s.weighed, std::nullopt);
        const auto found = weighed && weighed->stroke == stroke && weighed->asked == stops.front().pitches
                               ? std::optional(weighed->found)
                               : s.search(centre, stops.front(), {});
        if (!found) return;
        usual = found->result.residual;
        backToStroke(*found);
        stand(*found);
        keep(*found);
        centre += s.config.hop;
    }

    void keep(const Fitted& fitted) {
        tones = s.tonesOf(fitted.result, strings, stepSd);
        frames.push_back(State::frameOf(fitted, strings));
    }

    void stand(const Fitted& fitted) {
        for (std::size_t j = 0; j < strings; ++j) stood[j] = fitted.result.strings[j].tone.pitch;
    }

    void backToStroke(const Fitted& found) {
        Tones back = s.tonesOf(found.result, strings, stepSd);
        std::vector<Frame> before{State::frameOf(found, strings)};
        for (double at = found.centre - s.config.hop; at > stroke + 0.5 * s.config.moving; at -= s.config.hop) {
            const auto fitted =
                s.at(at, s.config.moving, ahead(back, -s.config.hop, before.back()), allPartials, 3, slopeSd, 0.0);
            if (!fitted.result.usable) break;
            before.push_back(State::frameOf(fitted, strings));
            back = s.tonesOf(fitted.result, strings, stepSd);
        }
        frames.assign(before.rbegin(), before.rend() - 1);
    }

    // What the last frame foretells. A string that is not heard, or strays, waits where it is asked for.
    Tones ahead(const Tones& from, double seconds, const Frame& last) const {
        Tones next = from;
        for (std::size_t j = 0; j < next.size(); ++j) {
            JointFit::Tone& tone = next[j];
            tone.pitch.value *= std::exp2(tone.slope * seconds / 1200.0);
            tone.pitchSd = Cents(stepSd);
            if (last.voices[j].own > silentOwn && !strays(j, tone.pitch)) continue;
            tone.pitch = stops[stop].pitches[j];
            tone.slope = 0.0;
        }
        return next;
    }

    bool strays(std::size_t j, Hertz pitch) const {
        const Hertz here = stops[stop].pitches[j], there = stops[std::min(stop + 1, stops.size() - 1)].pitches[j];
        return interval(std::min(here, there), pitch).value < -farthest
               || interval(std::max(here, there), pitch).value > farthest;
    }

    // The notes that the strings stood on last.
    Tones standing() const {
        Tones last = tones;
        for (std::size_t j = 0; j < last.size(); ++j) {
            last[j].pitch = stood[j];
            last[j].slope = 0.0;
            last[j].pitchSd = Cents(stepSd);
        }
        return last;
    }

    double lostAbove() const { return std::min(lostAt, usual + lostBy); }

    void goOn() {
        const Tones foretold = ahead(tones, s.config.hop, frames.back());
        if (calm) {
            const auto here = s.at(centre, s.config.steady, foretold, allPartials, 1, slopeSd, stiffnessSd);
            const double last = frames.back().residual;
            calm =
                here.result.usable && here.result.residual < std::max(calmTimes * last, last + calmBy) && isStill(here);
            if (calm) {
                keep(here);
                return;
            }
        }
        const auto here = s.at(centre, s.config.moving, foretold, allPartials, 3, slopeSd, 0.0);
        if (!here.result.usable || here.result.residual > lostAbove() || leaves(here)) {
            lost = true;
            return;
        }
        calm = isStill(here);
        if (calm) stand(here);
        keep(calm ? longer(here) : here);
        if (stop + 1 >= stops.size() || !hasCome(here)) return;
        if (!stops[stop + 1].slid) ++stop;
        else if (calm) settle(tonesAtNext());
    }

    // The same from a longer stretch, where the strings stand all through it.
    Fitted longer(const Fitted& here) {
        const auto all = s.at(here.centre, s.config.steady, s.tonesOf(here.result, strings, stepSd), allPartials, 3,
                              slopeSd, stiffnessSd);
        calm =
            all.result.usable && all.result.residual < std::max(longerTimes * here.result.residual, usual + longerBy);
        return calm ? all : here;
    }

    bool isStill(const Fitted& here) const {
        for (std::size_t j = 0; j < strings; ++j)
            if (here.result.strings[j].own > faintOwn && std::abs(here.result.strings[j].tone.slope) > stillBelow)
                return false;
        return true;
    }

    // Over frets no string is followed: strings that jump cannot be told apart on their way. One that is faint may stray.
    bool leaves(const Fitted& here) const {
        if (stop + 1 >= stops.size() || !stops[stop + 1].slid) return false;
        double left = 0.0, stays = 0.0;
        for (std::size_t j = 0; j < strings; ++j) {
            if (stops[stop].pitches[j] == stops[stop + 1].pitches[j]) continue;
            const auto& string = here.result.strings[j];
            (std::abs(interval(stood[j], string.tone.pitch).value) > nearby ? left : stays) += string.own;
        }
        return left > leavesWith * (left + stays);
    }

    // A bend is followed all the way: it has come where every string is near its stop.
    bool hasCome(const Fitted& here) const {
        bool any = false;
        for (std::size_t j = 0; j < strings; ++j) {
            if (here.result.strings[j].own < faintOwn) continue;
            any = true;
            if (std::abs(interval(stops[stop + 1].pitches[j], here.result.strings[j].tone.pitch).value) > nearby)
                return false;
        }
        return any;
    }

    // The next stop's notes, with the stiffness that the strings have there: along a string B rises with the square of
    // the pitch.
    Tones tonesAtNext() const {
        Tones there;
        for (std::size_t j = 0; j < strings; ++j) {
            there.push_back(toneAt(stops[stop + 1].pitches[j], startSd));
            const double ratio = stops[stop + 1].slid ? stops[stop + 1].pitches[j] / tones[j].pitch : 1.0;
            there[j].inharmonicity = std::min(stiffestLearned, tones[j].inharmonicity * ratio * ratio);
        }
        return there;
    }

    // The residual of the next stop's notes about a moment, 1 where they are not there.
    double misfitThere(double at, const Tones& next) {
        const auto rough = s.at(at, s.config.moving, next, roughPartials, 3, 0.0, 0.0);
        if (!rough.result.usable || !s.near(rough.result, stops[stop + 1])) return 1.0;
        const auto there =
            s.at(at, s.config.moving, s.tonesOf(rough.result, strings, startSd), allPartials, 3, slopeSd, 0.0);
        return there.result.usable && s.near(there.result, stops[stop + 1]) ? there.result.residual : 1.0;
    }

    // Over frets nothing is followed: the next stop is come to where its notes explain the sound better than what was
    // before, and as well as they soon will.
    void slidTo() {
        if (stop + 1 >= stops.size() || !(stops[stop + 1].slid || lost)) return;
        const Tones next = tonesAtNext();
        const double there = misfitThere(centre, next);
        if (there > (lost ? lostAbove() : std::min(lostAbove(), betterBy * frames.back().residual))) return;
        // An octave up explains half of what has not moved.
        const auto here = s.at(centre, s.config.moving, standing(), allPartials, 3, slopeSd, 0.0);
        if (here.result.usable && there > here.result.residual + reachedBy) return;
        double least = there;
        for (double later = centre + s.config.hop; later < std::min(centre + settles, s.end - 0.5 * s.config.moving);
             later += 2.0 * s.config.hop)
            least = std::min(least, misfitThere(later, next));
        if (there <= std::max(reachedTimes * least, least + reachedBy)) settle(next);
    }

    // Just after the arrival the strings stand: from there the sound is looked back at for the moment that they came.
    void settle(const Tones& next) {
        const double after = std::min(centre + s.config.moving, s.end - 0.5 * s.config.moving);
        if (after < centre) return;
        ++stop;
        const auto found = s.search(after, stops[stop], next);
        if (!found || found->result.residual > lostAbove()) {
            --stop;
            return;
        }
        const double arrival = lookBack(*found, centre);
        while (!frames.empty() && frames.back().time >= arrival) frames.pop_back();
        Frame frame = State::frameOf(*found, strings);
        for (double time = arrival; time < after; time += s.config.hop) {
            frame.time = time;
            frames.push_back(frame);
        }
        stand(*found);
        keep(*found);
        usual = std::max(usual, found->result.residual);
        lost = false;
        centre = after;
        calm = true;
    }

    // Since when the sound is what was found about a moment, or soon after.
    double lookBack(const Fitted& found, double about) {
        const double from = std::min(found.centre, about + 0.6 * s.config.moving), earliest = about - s.config.moving;
        const auto fitted = s.at(from, s.config.moving, s.tonesOf(found.result, strings, 1.0), 12, 2, 0.0, 0.0);
        if (!fitted.result.usable) return found.centre;
        constexpr std::size_t bin = 48;  // samples: 3 ms
        std::array<float, bin> foretold{};
        const auto first = static_cast<std::ptrdiff_t>(s.sampleAt(std::max(s.begin, from - 0.5 * s.config.moving)));
        const double border = foretoldBy + foretoldTimes * fitted.result.residual;
        std::ptrdiff_t at = first + 480;
        for (; at > static_cast<std::ptrdiff_t>(s.sampleAt(earliest)) && at > 0;
             at -= static_cast<std::ptrdiff_t>(bin)) {
            s.fit.foretell(static_cast<double>(at - first), foretold);
            double missed = 0.0, all = 1e-20;
            for (std::size_t n = 0; n < bin; ++n) {
                const double heard = static_cast<double>(s.sound.samples[static_cast<std::size_t>(at) + n]);
                missed += (heard - static_cast<double>(foretold[n])) * (heard - static_cast<double>(foretold[n]));
                all += heard * heard;
            }
            if (missed / all > border) break;
        }
        return static_cast<double>(at + static_cast<std::ptrdiff_t>(bin)) / s.config.sampleRate - s.sound.later;
    }

    State& s;
    double stroke;  // s
    std::vector<Stop> stops;
    std::size_t strings;
    bool begun = false;
    double centre = 0.0;  // s: of the next frame
    std::vector<Frame> frames;
    Tones tones;
    double usual = 0.0;                               // the residual where the strings stand
    std::array<Hertz, JointFit::maxStrings> stood{};  // where the strings stood last
    std::size_t stop = 0;                             // the last one that was come to
    bool calm = false;                                // all strings stand
    bool lost = false;
};

VoiceTracker::VoiceTracker(const Config& config) : state(std::make_unique<State>(config)) {}
VoiceTracker::~VoiceTracker() = default;

double VoiceTracker::hop() const { return state->config.hop; }

double VoiceTracker::misfit(SoundSpan sound, double stroke, double end, const Stop& asked) {
    State& s = *state;
    s.sound = sound;
    s.begin = stroke + s.config.attack;
    s.end = end;
    const auto found = s.search(s.beginsAt(stroke), asked, {});
    s.weighed.reset();
    if (found && end >= s.beginsAt(stroke) + 0.5 * s.config.steady)
        s.weighed = State::Weighed{stroke, asked.pitches, *found};
    return found ? found->result.residual : 1.0;
}

std::vector<VoiceTracker::Frame> VoiceTracker::follow(SoundSpan sound, double stroke, double end,
                                                      std::span<const Stop> stops) {
    begin(stroke, {stops.begin(), stops.end()});
    const auto frames = goOn(sound, end, true);
    return {frames.begin(), frames.end()};
}

void VoiceTracker::begin(double stroke, std::vector<Stop> stops) {
    course = std::make_unique<Course>(*state, stroke, std::move(stops));
}

std::span<const VoiceTracker::Frame> VoiceTracker::goOn(SoundSpan sound, double end, bool over) {
    return course ? course->follow(sound, end, over) : std::span<const Frame>();
}

namespace {

// Where a string began to sound, going back from where it surely does.
std::optional<double> beganAt(std::span<const double> powers, double from) {
    const double known = median({powers.end() - static_cast<std::ptrdiff_t>(knownFrames), powers.end()});
    std::size_t first = powers.size();
    while (first > 0 && powers[first - 1] > halfInside * known) --first;
    if (first == 0) return from;
    const std::size_t straddling = std::min(first, straddlingFrames);
    const auto before = powers.first(first - straddling);
    if (first == powers.size() || std::ranges::any_of(before, [&](double each) { return each > silentBefore * known; }))
        return std::nullopt;
    const double below = powers[first - 1], above = powers[first];
    return from + lookedEach * (static_cast<double>(first - 1) + (halfInside * known - below) / (above - below));
}

}  // namespace

std::vector<std::optional<double>> VoiceTracker::since(SoundSpan sound, double from, const Frame& as,
                                                       std::size_t strings) {
    State& s = *state;
    s.sound = sound;
    s.begin = from;
    s.end = as.time + 0.5 * s.config.moving;
    Tones tones;
    for (std::size_t j = 0; j < strings; ++j)
        tones.push_back({as.voices[j].pitch, 0.0, as.voices[j].inharmonicity, Cents(stepSd)});
    std::vector<std::vector<double>> powers(strings);
    for (double at = from; at < as.time + 0.5 * lookedEach; at += lookedEach) {
        const auto fitted = s.at(at, s.config.moving, tones, allPartials, 2, slopeSd, 0.0);
        for (std::size_t j = 0; j < strings; ++j)
            powers[j].push_back(fitted.result.usable ? fitted.result.strings[j].own * fitted.result.power : 0.0);
    }
    std::vector<std::optional<double>> began(strings);
    for (std::size_t j = 0; j < strings && powers[j].size() > knownFrames; ++j) began[j] = beganAt(powers[j], from);
    return began;
}

std::optional<VoiceTracker::Frame> VoiceTracker::together(SoundSpan sound, double from, double to, const Stop& asked,
                                                          const Frame& apart) {
    State& s = *state;
    s.sound = sound;
    s.begin = from;
    s.end = to;
    // A held string keeps its pitch, but for what the bend drags it along; a bent one loses stiffness as its tension
    // rises.
    Tones known;
    for (std::size_t j = 0; j < asked.pitches.size(); ++j) {
        const auto& voice = apart.voices[j];
        const bool held = j == heldOf(asked, apart);
        const double ratio = asked.pitches[j] / voice.pitch;
        known.push_back({held ? voice.pitch : asked.pitches[j], 0.0,
                         held ? voice.inharmonicity : voice.inharmonicity / (ratio * ratio),
                         Cents(held ? heldSd : startSd)});
    }
    const std::size_t held = heldOf(asked, apart), bent = 1 - held;
    const double middle = 0.5 * (from + to), length = to - from;
    std::vector<Fitted> roughs;
    for (const double drift : {-6.0, 0.0, 6.0})
        for (const double distance :
             {-36.0, -24.0, -15.0, -9.0, -5.0, -2.0, -0.7, 0.7, 2.0, 5.0, 9.0, 15.0, 24.0, 36.0}) {
            Tones start = known;
            start[held].pitch.value *= std::exp2(drift / 1200.0);
            start[bent].pitch = Hertz(start[held].pitch.value * std::exp2(distance / 1200.0));
            roughs.push_back(s.at(middle, length, start, 6, 4, 0.0, 0.0));
            if (!roughs.back().result.usable) roughs.pop_back();
        }
    std::ranges::sort(roughs, {}, [](const Fitted& each) { return each.result.residual; });
    std::optional<Fitted> best;
    double least = 1e30;
    const auto square = [](double x) { return x * x; };
    for (const Fitted& rough : apartFrom(roughs)) {
        const auto found = s.at(middle, length, s.tonesOf(rough.result, 2, startSd), 12, 3, 50.0, 0.2);
        if (!found.result.usable || !s.near(found.result, asked)) continue;
        const auto& strings = found.result.strings;
        const auto stiffer = [&](std::size_t j) {
            return std::min(4.0, square(std::log(strings[j].tone.inharmonicity / known[j].inharmonicity) / 0.3));
        };
        const double cost = 0.5
                            * (independent * std::log(found.result.residual + 1e-4)
                               + square(interval(apart.voices[held].pitch, strings[held].tone.pitch).value / heldSd)
                               + stiffer(held) + stiffer(bent));
        if (cost >= least) continue;
        least = cost;
        best = found;
    }
    if (!best) return std::nullopt;
    return State::frameOf(*best, 2);
}

namespace {

struct Candidate {
    double midi = 0.0, power = 0.0;
};

// Near the known string, or near a partial of it: a note all of whose partials are the string's, too.
bool isOf(Hertz known, Hertz pitch) {
    const double times = std::max(1.0, std::round(pitch / known));
    return std::abs(interval(Hertz(times * known.value), pitch).value) < (times > 1.0 ? 40.0 : 70.0);
}

// Notes whose first partials are in what one string leaves over, the strongest first.
std::vector<Candidate> candidates(std::span<const float> rest, const JointFit::Tone& known, double sampleRate) {
    constexpr int lowest = 40, highest = 88;
    constexpr int partials = 4;
    const double apart = 1.6 * sampleRate / static_cast<double>(rest.size());  // Hz: nearer, it is the known string's
    std::vector<Candidate> all;
    for (int midi = lowest; midi <= highest; ++midi) {
        const double hertz = frequencyOf(MidiPitch(midi)).value;
        if (isOf(known.pitch, Hertz(hertz))) continue;
        std::array<double, partials> powers{};
        for (int k = 1; k <= partials; ++k)
            for (const double cents : {-36.0, -24.0, -12.0, 0.0, 12.0, 24.0, 36.0}) {
                const double at = k * hertz * std::exp2(cents / 1200.0), number = std::round(at / known.pitch.value);
                const double own = number * known.pitch.value * stretched(known.inharmonicity, number);
                if (number > 0.0 && std::abs(at - own) < apart) continue;
                powers[static_cast<std::size_t>(k - 1)] =
                    std::max(powers[static_cast<std::size_t>(k - 1)], powerAt(rest, at, sampleRate));
            }
        double sum = 0.0;
        for (const double power : powers) sum += power;
        if (powers[0] > besideFirst * sum) all.push_back({static_cast<double>(midi), sum});
    }
    std::sort(all.begin(), all.end(), [](const Candidate& a, const Candidate& b) { return a.power > b.power; });
    all.resize(std::min<std::size_t>(all.size(), 8));
    return all;
}

}  // namespace

std::optional<VoiceTracker::Pair> VoiceTracker::beside(SoundSpan sound, double from, double to, Hertz known) {
    State& s = *state;
    s.sound = sound;
    s.begin = from;
    s.end = to;
    const double centre = 0.5 * (from + to), length = std::min(to - from, 0.2);
    const auto alone = s.withStiffness(
        {.result = s.at(centre, length, {toneAt(known, startSd)}, 4, 4, 50.0, 0.0).result, .centre = centre},
        {.pitches = {known}, .slid = false});
    if (!alone.result.usable) return std::nullopt;
    const auto own = s.at(centre, length, s.tonesOf(alone.result, 1, startSd), 14, 3, 50.0, 0.2);
    if (!own.result.usable || own.result.residual > 1.0 - knownAll) return std::nullopt;
    const JointFit::Tone tone = own.result.strings[0].tone;
    // its half waves in the stretch, and what the ends ask
    const auto powers = static_cast<std::size_t>(std::lround(2.0 * swellsAtMost * length)) + 3;
    std::optional<Pair> best;
    double most = 0.0;
    for (const Candidate& each : candidates(s.fit.leftover(), tone, s.config.sampleRate)) {
        const Hertz pitch = frequencyOf(MidiPitch(each.midi));
        Tones both{tone, toneAt(pitch, startSd)};
        both[0].pitchSd = Cents(3.0);
        const auto found = s.at(centre, length, both, 12, 4, 50.0, 0.3);
        if (!found.result.usable) continue;
        const auto& other = found.result.strings[1];
        if (other.own < most || other.own < besideOwn || other.own < besideOverRest * found.result.residual
            || other.first < besideFirst || isOf(known, other.tone.pitch) || isOf(tone.pitch, other.tone.pitch))
            continue;
        const double surely = s.fit.ownBesideSwelling(1, powers);
        if (surely < std::max(most, besideOwn)) continue;
        most = surely;
        const Frame frame = State::frameOf(found, 2);
        best = Pair{frame.voices[0], frame.voices[1], frame.residual};
    }
    if (best && best->known.own < knownOwn) return std::nullopt;
    return best;
}

double VoiceTracker::powerOf(SoundSpan sound, double from, double to, Hertz pitch) {
    State& s = *state;
    s.sound = sound;
    s.begin = from;
    s.end = to;
    const auto heard = s.stretch(0.5 * (from + to), to - from);
    return heard.empty() ? 0.0 : powerAt(heard, pitch.value, s.config.sampleRate);
}

}  // namespace landfall
