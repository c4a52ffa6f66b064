#include "src/practice/targets.h"

#include <algorithm>
#include <cmath>

#include "dsp/statistics.h"
#include "src/music/chord_move.h"
#include "src/practice/chord_landing.h"

namespace landfall {

namespace {

constexpr std::size_t recentStarts = 5;
constexpr double heldFor = 0.2;  // s

int semitone(MidiPitch pitch) { return static_cast<int>(std::lround(pitch.value)); }

// How much wider than in equal temperament the pure interval from one note up to another is.
Cents pureOverEqual(MidiPitch from, MidiPitch to) {
    const int semitones = static_cast<int>(std::lround(to.value - from.value));
    return pureInterval(semitones) - Cents(100.0 * semitones);
}

// What is only struck is its own target, and so is a unison.
bool hasOwnTarget(const Move& several) { return several.gesture != Gesture::note && !isUnison(several); }

}  // namespace

std::size_t heldAgainst(std::span<const Move> strings) {
    const auto held = std::ranges::find(strings, Gesture::note, &Move::gesture);
    return held == strings.end() ? 0 : static_cast<std::size_t>(held - strings.begin());
}

HeldTarget Targets::of(const Move& move) const {
    const double concert = 100.0 * move.to.value;
    if (wanted == Target::startNote)
        if (const auto recent = starts.find(semitone(move.frettedNote())); recent != starts.end())
            return {concert + median({recent->second.begin(), recent->second.end()}), wanted};
    if (wanted == Target::ownGuitar)
        if (const OwnFret* own = fretOf(move)) return {own->cents, wanted};
    return {concert, Target::concert};
}

HeldTargets Targets::of(const Move& several, std::span<const std::optional<Cents>> sounding) const {
    const auto strings = stringsOf(several);
    HeldTargets held{std::vector<Cents>(strings.size()), Target::concert};
    if (wanted == Target::ownGuitar && hasOwnTarget(several) && knowsAll(several)) {
        held.kind = wanted;
        for (std::size_t j = 0; j < strings.size(); ++j)
            held.above[j] = Cents(fretOf(strings[j])->cents - 100.0 * strings[j].to.value);
    }
    if (wanted != Target::just || isUnison(several)) return held;
    held.kind = wanted;
    const std::size_t against = heldAgainst(strings);
    for (std::size_t j = 0; j < strings.size() && sounding[against]; ++j)
        if (j != against) held.above[j] = *sounding[against] + pureOverEqual(strings[against].to, strings[j].to);
    return held;
}

bool Targets::knowsAll(const Move& several) const {
    const auto strings = stringsOf(several);
    return std::ranges::all_of(strings, [this](const Move& string) { return fretOf(string) != nullptr; });
}

const OwnFret* Targets::fretOf(const Move& move) const {
    const auto own =
        std::find_if(frets.begin(), frets.end(), [&](const OwnFret& fret) { return fret.note == semitone(move.to); });
    return own != frets.end() ? &*own : nullptr;
}

bool Targets::lacks(const Move& move) const {
    if (wanted != Target::ownGuitar) return false;
    return move.with.empty() ? fretOf(move) == nullptr : hasOwnTarget(move) && !knowsAll(move);
}

void Targets::learnStart(const Move& move, Cents error) {
    auto& recent = starts[semitone(move.frettedNote())];
    recent.push_back(error.value);
    if (recent.size() > recentStarts) recent.pop_front();
}

void Targets::learnFret(const Note& note) {
    if (!note.struck) return;
    const auto stretches = note.stretches();
    const auto first = std::find_if(stretches.begin(), stretches.end(), [](const Stretch& s) { return s.stays(); });
    if (first == stretches.end() || first->state != StretchState::plateau || first->length() < heldFor) return;
    const MidiPitch fret(std::round(first->level / 100.0));
    learnFret(fret, Cents(first->level - 100.0 * fret.value));
}

void Targets::learnFret(MidiPitch asked, Cents above) {
    std::erase_if(frets, [&](const OwnFret& known) { return known.note == semitone(asked); });
    frets.push_back({semitone(asked), 100.0 * asked.value + above.value});
}

}  // namespace landfall
