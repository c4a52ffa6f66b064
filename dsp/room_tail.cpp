#include "dsp/room_tail.h"

#include <algorithm>
#include <cmath>

#include "dsp/stiff_string.h"

namespace landfall {

namespace {

// A Hann window tells lines apart from two thirds of a semitone at A4 on; shorter, and low strings' do not part.
constexpr double tailSeconds = 0.064;
constexpr double apartHertz = 33.0;      // from there on the window hears one line without the other
constexpr double besideHertz = 47.0;     // a line shows nothing of itself there
constexpr std::size_t turnedAnew = 256;  // float rotations drift by under 1e-4 rad over this stretch

// What answers as lines was held: longer than the window, and narrower than a vibrato.
constexpr double heldWithin = 6.0, sureSd = 4.0;  // cents
constexpr int heldFrames = 20;                    // 0.1 s
constexpr double powerFalls = 0.99;               // a frame: of a held note the loudest counts that is not long ago
constexpr double leftBy = 60.0;                   // cents, that a pitch is another one
constexpr double lastsSeconds = 2.5;

// A tail's lines are so much stronger than what lies beside them, and so much of the sound. What is left of a dry
// string that was damped lies under the softest (25 dB below the note). Chosen on the battery's dry clips.
constexpr double standsOut = 4.0, leastOfAll = 0.004;
constexpr double softestLine = 0.003, loudestLine = 1.0;  // of the note's power
constexpr double mostOfAll = 0.5;                         // where nothing else sounds, the string itself is dying away
constexpr double weakestPartial = 1e-3;                   // of the strongest
constexpr double unlike = 6.0;  // times the other lines' share: the string sounds there as well
// A room is slower than a hand: from hop to hop its lines change by no more, 60 dB in 0.2 s. A string that is damped
// falls faster, and one that comes back rises faster.
constexpr double lingering = 0.7;
constexpr int hopsAsked = 4, doubtsMost = 3;
// The pitch is where it was before: the tail was taken for it while the lines only decay, and not for long.
constexpr double grown = 2.0;
constexpr int backsMost = 30;  // 0.15 s
constexpr double shareFollows = 0.2;
// Its even lines have so many times the odd ones' share, and so much of what they had in the note: the string sounds an
// octave higher. A room raises and takes single lines by as much, not all even ones for several hops.
constexpr double octaveTimes = 6.0, octaveLeast = 0.05;

double centsFromOneHertz(double hertz) { return centsPerLog * std::log(hertz); }

// Whether a partial of the string lies, or lay within the window, too near to be told apart.
bool isHidden(double hertz, const RoomTail::Place& place) {
    const auto [low, high] = std::minmax(place.now.value, place.before.value);
    for (double number = std::max(1.0, std::floor(hertz / high) - 1.0); number <= std::ceil(hertz / low); ++number) {
        const double ratio = number * stretched(place.inharmonicity, number);
        if (ratio * low - apartHertz < hertz && hertz < ratio * high + apartHertz) return true;
    }
    return false;
}

}  // namespace

RoomTail::RoomTail(const Config& config)
    : rate(config.sampleRate), window(static_cast<std::size_t>(tailSeconds * config.sampleRate)),
      weighed(window.size()), sounds(window.size()) {
    const auto size = static_cast<double>(window.size());
    for (std::size_t n = 0; n < window.size(); ++n)
        window[n] = static_cast<float>((1.0 - std::cos(twoPi * (static_cast<double>(n) + 0.5) / size)) / size);
}

void RoomTail::hear(std::size_t centre, const PartialFit::Result& fit) noexcept {
    const bool sure = fit.usable && fit.sd.value < sureSd;
    const double cents = sure ? centsFromOneHertz(fit.tone.pitch.value) : 0.0;
    if (!sure || held.frames == 0 || std::abs(cents - held.cents) >= heldWithin) {
        if (held.frames >= heldFrames) {
            left = held;
            proof = {};
            evens = odds = 0.0;
        }
        held = {};
        if (sure) held = {.cents = cents, .frames = 1, .to = centre};
        return;
    }
    ++held.frames;
    held.cents += (cents - held.cents) / std::min(held.frames, heldFrames);
    held.inharmonicity = fit.tone.inharmonicity;
    held.to = centre;
    for (std::size_t k = 0; k < std::min(mostLines, fit.partials); ++k)
        held.power[k] = std::max(powerFalls * held.power[k], static_cast<double>(fit.power[k]));
}

void RoomTail::struck() noexcept {
    held = left = {};
    proof = {};
    evens = odds = 0.0;
    octaveUp = false;
}

// Amplitudes of cosine and sine about the middle of the window, whose weights sum to one. All frequencies go side by
// side, so that the compiler uses its registers.
void RoomTail::listen(std::span<Line> lines) const noexcept {
    constexpr std::size_t lanes = 12;
    static_assert(lanes >= mostLines);
    std::array<float, lanes> turnRe{}, turnIm{};
    std::array<double, lanes> cosine{}, sine{};
    const double middle = 0.5 * static_cast<double>(weighed.size() - 1);
    for (std::size_t k = 0; k < lines.size(); ++k) {
        turnRe[k] = static_cast<float>(std::cos(twoPi * lines[k].hertz / rate));
        turnIm[k] = static_cast<float>(std::sin(twoPi * lines[k].hertz / rate));
    }
    for (std::size_t begin = 0; begin < weighed.size(); begin += turnedAnew) {
        std::array<float, lanes> re{}, im{}, sumRe{}, sumIm{};
        for (std::size_t k = 0; k < lines.size(); ++k) {
            const double phase = twoPi * lines[k].hertz / rate * (static_cast<double>(begin) - middle);
            re[k] = static_cast<float>(std::cos(phase));
            im[k] = static_cast<float>(std::sin(phase));
        }
        for (std::size_t n = begin; n < std::min(weighed.size(), begin + turnedAnew); ++n) {
            const float x = weighed[n];
            for (std::size_t k = 0; k < lanes; ++k) {
                sumRe[k] += x * re[k];
                sumIm[k] += x * im[k];
                const float next = re[k] * turnRe[k] - im[k] * turnIm[k];
                im[k] = im[k] * turnRe[k] + re[k] * turnIm[k];
                re[k] = next;
            }
        }
        for (std::size_t k = 0; k < lanes; ++k) {
            cosine[k] += 2.0 * static_cast<double>(sumRe[k]);
            sine[k] += 2.0 * static_cast<double>(sumIm[k]);
        }
    }
    for (std::size_t k = 0; k < lines.size(); ++k) {
        lines[k].cosine = cosine[k];
        lines[k].sine = sine[k];
        lines[k].power = 0.5 * (cosine[k] * cosine[k] + sine[k] * sine[k]);
    }
}

RoomTail::Lines RoomTail::findLines(const Place* place) const noexcept {
    Lines lines;
    std::array<double, mostLines> notePower{}, shares{};
    const double strongest = *std::max_element(left.power.begin(), left.power.end());
    const double first = std::exp(left.cents / centsPerLog);
    for (std::size_t k = 0; k < mostLines; ++k) {
        const auto number = static_cast<double>(k + 1);
        const double hertz = first * number * stretched(left.inharmonicity, number);
        if (left.power[k] < weakestPartial * strongest || hertz > highestPartialHertz
            || (place && isHidden(hertz, *place)))
            continue;
        notePower[lines.count] = left.power[k];
        lines.line[lines.count].number = k + 1;
        lines.line[lines.count++].hertz = hertz;
    }
    if (lines.count == 0) return lines;
    listen(std::span(lines.line).first(lines.count));
    for (std::size_t k = 0; k < lines.count; ++k) {
        lines.line[k].share = shares[k] = lines.line[k].power / notePower[k];
        lines.standing += lines.line[k].power;
    }
    const auto middle = shares.begin() + static_cast<std::ptrdiff_t>(lines.count / 2);
    std::nth_element(shares.begin(), middle, shares.begin() + static_cast<std::ptrdiff_t>(lines.count));
    lines.share = *middle;
    return lines;
}

// Whether the even lines are the string's and the odd ones a tail's. The octave shares no other line with what it left.
bool RoomTail::goesOctaveUp(const Lines& lines) noexcept {
    double even = 0.0, odd = 0.0, evenNote = 0.0, oddNote = 0.0;
    for (const Line& line : std::span(lines.line).first(lines.count)) {
        (line.number % 2 == 0 ? even : odd) += line.power;
        (line.number % 2 == 0 ? evenNote : oddNote) += left.power[line.number - 1];
    }
    if (!(evenNote > 0.0 && oddNote > 0.0)) return false;
    evens += shareFollows * (even / evenNote - evens);
    odds += shareFollows * (odd / oddNote - odds);
    return evens > octaveTimes * odds && evens > octaveLeast;
}

// The power beside the lines. Where the string's own partials are not known, one may lie to one side: the weaker one
// counts.
double RoomTail::besideOf(const Lines& lines, bool weaker) const noexcept {
    std::array<Line, mostLines> below{}, above{};
    for (std::size_t k = 0; k < lines.count; ++k) {
        below[k].hertz = lines.line[k].hertz - besideHertz;
        above[k].hertz = lines.line[k].hertz + besideHertz;
    }
    listen(std::span(below).first(lines.count));
    listen(std::span(above).first(lines.count));
    double power = 0.0;
    for (std::size_t k = 0; k < lines.count; ++k)
        power += weaker ? std::min(below[k].power, above[k].power) : 0.5 * (below[k].power + above[k].power);
    return power;
}

// Whether the lines are a tail's, by this window and those before. `back`: the pitch is again where they are.
bool RoomTail::prove(const Lines& lines, const Place* place, bool back) noexcept {
    if (!back) proof.backs = 0;
    if (back && (++proof.backs > backsMost || lines.share > grown * proof.share)) {
        proof = {};
        return false;
    }
    const bool lingers = lines.share > lingering * proof.last && lingering * lines.share < proof.last;
    proof.last = lines.share;
    if (lingers && lines.standing > leastOfAll * lines.all && lines.share > softestLine && lines.share < loudestLine
        && lines.standing > standsOut * besideOf(lines, place == nullptr)) {
        if (!back)
            proof.share = proof.hops == 0 ? lines.share : proof.share + shareFollows * (lines.share - proof.share);
        ++proof.hops;
        proof.doubts = 0;
    } else if (++proof.doubts > doubtsMost) {
        proof.hops = 0;
    }
    return proof.hops >= hopsAsked;
}

std::size_t RoomTail::find(std::span<const float> heard, std::size_t end, const Place* place,
                           std::size_t hopSamples) noexcept {
    octaveUp = false;
    const bool lasts = left.frames > 0 && end <= left.to + static_cast<std::size_t>(lastsSeconds * rate)
                       && end >= left.to + window.size() && heard.size() == window.size();
    const bool back = place && std::abs(centsFromOneHertz(place->now.value) - left.cents) < leftBy;
    if (!lasts || (back && proof.hops < hopsAsked)) {
        proof = {};
        return 0;
    }
    double all = 0.0;
    for (std::size_t n = 0; n < window.size(); ++n) {
        weighed[n] = heard[n] * window[n];
        all += static_cast<double>(weighed[n]) * static_cast<double>(heard[n]);
    }
    if (!(all > silentPower && all < 1.0 / silentPower)) return 0;
    if (back) place = nullptr;
    Lines lines = findLines(place);
    Place above{};
    if (!place && goesOctaveUp(lines)) {
        octaveUp = true;
        above.now = above.before = Hertz(2.0 * std::exp(left.cents / centsPerLog));
        above.inharmonicity = left.inharmonicity;
        place = &above;
        lines = findLines(place);
    }
    lines.all = all;
    const int before = proof.hops;
    if (lines.count == 0 || !prove(lines, place, back && !octaveUp) || (!place && lines.standing > mostOfAll * all))
        return 0;
    const std::size_t samples = proof.hops == hopsAsked && before < hopsAsked ? window.size() : hopSamples;
    sound(lines, samples);
    return samples;
}

void RoomTail::sound(const Lines& lines, std::size_t samples) noexcept {
    const double first = 0.5 * static_cast<double>(window.size() + 1) - static_cast<double>(samples);
    std::fill_n(sounds.begin(), samples, 0.0f);
    for (std::size_t k = 0; k < lines.count; ++k) {
        const Line& line = lines.line[k];
        if (!octaveUp && line.share > unlike * lines.share) continue;
        const double turn = twoPi * line.hertz / rate, turnRe = std::cos(turn), turnIm = std::sin(turn);
        const double cosine = std::cos(turn * first), sine = std::sin(turn * first);
        double re = line.cosine * cosine + line.sine * sine, im = line.cosine * sine - line.sine * cosine;
        for (std::size_t n = 0; n < samples; ++n) {
            sounds[n] += static_cast<float>(re);
            const double next = re * turnRe - im * turnIm;
            im = im * turnRe + re * turnIm;
            re = next;
        }
    }
}

bool RoomTail::isAt(Hertz pitch) const noexcept {
    return proof.hops >= hopsAsked && std::abs(centsFromOneHertz(pitch.value) - left.cents) < leftBy;
}

void RoomTail::reset() noexcept { struck(); }

}  // namespace landfall
