#include "src/practice/effect_ear.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>
#include <utility>

#include "dsp/statistics.h"

namespace landfall {

namespace {

// frames of 5 ms
constexpr int cutting = 12, tail = 100, past = 140;
constexpr int piece = 10;       // over which levels are taken
constexpr int noteBefore = 60;  // that a note has rung before a cut
constexpr int noteLeast = 80;   // with a pitch
constexpr int pointFrames = 5;  // in a point of a held note
constexpr std::size_t pointsMost = 40;
constexpr std::size_t lastOnes = 8;                 // cuts and notes that count
constexpr double attack = 0.08;                     // s after a stroke that are left out
constexpr double heldCents = 60.0;                  // further away it is another note
constexpr double heldGap = 0.06;                    // s that a held note may be unheard
constexpr double heldLeast = 0.5, heldSpan = 60.0;  // s
constexpr double slowest = 3.0, fastest = 9.0;      // Hz; what swings more slowly is told by its wander

// The straight line through values at their times is taken away.
void detrend(std::span<const double> at, std::span<double> values) {
    const auto count = static_cast<double>(at.size());
    double middle = 0.0, mean = 0.0, along = 0.0, spread = 1e-12;
    for (std::size_t i = 0; i < at.size(); ++i) middle += at[i] / count, mean += values[i] / count;
    for (std::size_t i = 0; i < at.size(); ++i) {
        along += (at[i] - middle) * (values[i] - mean);
        spread += (at[i] - middle) * (at[i] - middle);
    }
    for (std::size_t i = 0; i < at.size(); ++i) values[i] -= mean + along / spread * (at[i] - middle);
}

template <typename Value>
void keepLast(std::deque<Value>& values, Value next) {
    values.push_back(next);
    if (values.size() > lastOnes) values.pop_front();
}

}  // namespace

std::string_view effectSentence(HeardEffect effect) {
    return effect == HeardEffect::ringing
               ? "Echo or reverb on the input makes marks less certain. Play dry if you can."
               : "An effect makes the pitch waver (chorus, phaser, wah, heavy gain), so marks "
                 "are less certain. Play dry if you can.";
}

void EffectEar::stroke(Seconds time) { strokes.push_back(time.value); }

std::optional<HeardEffect> EffectEar::settled(const PitchFrame& frame) {
    now = frame.centre.value;
    bool wavers = false;
    for (; !strokes.empty() && strokes.front() <= now; strokes.pop_front()) {
        wavers = noteWavered() || wavers;
        wavers = heldNoteEnds() || wavers;
        strokeAt = strokes.front();
    }
    const Moment moment{frame.level.value,
                        frame.pitch ? std::optional(interval(standardA4, *frame.pitch).value) : std::nullopt};
    if (frame.pitch && now > strokeAt + attack) ++pitched, wandering += frame.wander > config.wander;
    wavers = hold(moment.cents) || wavers;
    if (ringsOn(moment) && !toldRinging) {
        toldRinging = true;
        return HeardEffect::ringing;
    }
    if (!wavers || toldWavering) return std::nullopt;
    toldWavering = true;
    return HeardEffect::wavering;
}

bool EffectEar::ringsOn(const Moment& moment) {
    moments.push_back(moment);
    if (moments.size() > past + cutting + tail) moments.pop_front();
    if (++sinceCut < cutting + tail) return false;
    const auto rings = cutRings();
    if (!rings) return false;
    sinceCut = 0;
    keepLast(cuts, *rings);
    return std::count(cuts.begin(), cuts.end(), true) >= config.ringing;
}

// Of the cut, if there was one, whose tail has just been heard.
std::optional<bool> EffectEar::cutRings() const {
    if (moments.size() < past + cutting + tail) return std::nullopt;
    if (strokeAt > now - 0.005 * (noteBefore + cutting + tail)) return std::nullopt;
    const auto level = [this](int from) {
        double total = 0.0;
        for (int i = from; i < from + piece; ++i) total += moments[static_cast<std::size_t>(i)].level;
        return total / piece;
    };
    const auto cents = [this](int i) { return moments[static_cast<std::size_t>(i)].cents; };
    constexpr int cut = past, after = past + cutting, end = after + tail;
    if (!cents(cut - 1) || moments[cut - 1].level - moments[after - 1].level < config.cut.value) return std::nullopt;
    int before = 0, tailPitched = 0;
    for (int i = cut - noteBefore; i < cut; ++i) before += cents(i).has_value();
    if (before < 0.9 * noteBefore) return std::nullopt;
    for (int i = after; i < end; ++i) {
        const auto isThis = [&](const Moment& one) {
            return one.cents && std::abs(*one.cents - *cents(i)) < config.near.value;
        };
        tailPitched += cents(i) && std::any_of(moments.begin(), moments.begin() + cut, isThis);
    }
    const double note = level(cut - piece), first = level(after + piece - 2), last = level(end - piece);
    double lowest = first, rise = 0.0;
    for (int i = after + piece - 2; i <= end - piece; i += piece) {
        lowest = std::min(lowest, level(i));
        rise = std::max(rise, level(i) - lowest);
    }
    const double lost = note - first, fall = first - last;
    return tailPitched >= config.pitched * tail && lost <= config.cutMost.value && fall >= config.fallLeast.value
           && fall <= config.fallMost.value && rise <= config.rise.value;
}

// The note before the stroke is over.
bool EffectEar::noteWavered() {
    if (pitched >= noteLeast) keepLast(wavered, 2 * wandering > pitched);
    if (pitched >= noteLeast || !config.connected) pitched = wandering = 0;
    return std::count(wavered.begin(), wavered.end(), true) >= config.wavering;
}

bool EffectEar::hold(std::optional<double> cents) {
    const bool gone =
        !current.at.empty()
        && (cents ? std::abs(*cents - current.cents.front()) > heldCents : now - current.at.back() > heldGap);
    const bool swings = gone && heldNoteEnds();
    if (!cents || now < strokeAt + attack || current.at.size() == pointsMost) return swings;
    sum += *cents;
    if (++summed < pointFrames) return swings;
    current.at.push_back(now);
    current.cents.push_back(sum / pointFrames);
    sum = 0.0;
    summed = 0;
    return swings;
}

bool EffectEar::heldNoteEnds() {
    Held note = std::move(current);
    current = {};
    sum = 0.0;
    summed = 0;
    // One for each stroke: a hand too keeps its phase through a long note.
    if (heldStroke == strokeAt || note.at.empty() || note.at.back() - note.at.front() < heldLeast) return false;
    heldStroke = strokeAt;
    held.push_back(std::move(note));
    while (held.size() > config.heldNotes || now - held.front().at.front() > heldSpan) held.pop_front();
    return held.size() == config.heldNotes && !toldWavering && pitchSwings();
}

// Looks for the rate whose one sinusoid, under a straight line of its own for each note, explains most of what all held
// notes do. Each counts alike, but for one that hardly moves.
bool EffectEar::pitchSwings() const {
    std::vector<std::vector<double>> notes;
    std::vector<double> sizes;
    double points = 0.0;
    for (const Held& note : held) {
        std::vector<double>& cents = notes.emplace_back(note.cents);
        detrend(note.at, cents);
        double squares = 0.0;
        for (const double c : cents) squares += c * c;
        sizes.push_back(std::sqrt(squares / static_cast<double>(cents.size())));
        for (double& c : cents) c /= std::max(sizes.back(), 0.5 * config.swing.value);
        points += static_cast<double>(cents.size());
    }
    if (median(std::move(sizes)) < config.swing.value) return false;

    std::vector<double> cosine, sine;
    const auto explained = [&](double rate, bool anew) {
        double cc = 0.0, cs = 0.0, ss = 0.0, x = 0.0, y = 0.0;
        for (std::size_t n = 0; n < notes.size(); ++n) {
            const std::vector<double>& at = held[n].at;
            cosine.clear();
            sine.clear();
            for (const double t : at) {
                const double turn = 2.0 * std::numbers::pi * rate * (anew ? t - at.front() : t);
                cosine.push_back(std::cos(turn));
                sine.push_back(std::sin(turn));
            }
            detrend(at, cosine);
            detrend(at, sine);
            for (std::size_t i = 0; i < at.size(); ++i) {
                cc += cosine[i] * cosine[i], cs += cosine[i] * sine[i], ss += sine[i] * sine[i];
                x += cosine[i] * notes[n][i], y += sine[i] * notes[n][i];
            }
        }
        return (x * x * ss - 2.0 * x * y * cs + y * y * cc) / std::max(cc * ss - cs * cs, 1e-9) / points;
    };
    const auto most = [&](double step, bool anew) {
        double share = 0.0;
        for (double rate = slowest; rate <= fastest; rate += step) share = std::max(share, explained(rate, anew));
        return share;
    };
    const double span = held.back().at.back() - held.front().at.front();
    return most(0.4 / span, false) >= config.share && most(0.2, true) < config.shareAnew;
}

}  // namespace landfall
