#include "src/practice/targets.h"

#include <algorithm>
#include <cmath>

#include "dsp/statistics.h"

namespace landfall {

namespace {

constexpr std::size_t recentStarts = 5;
constexpr double heldFor = 0.2;  // s

int semitone(MidiPitch pitch) { return static_cast<int>(std::lround(pitch.value)); }

}  // namespace

HeldTarget Targets::of(const Move& move) const {
    const double concert = 100.0 * move.to.value;
    if (wanted == Target::startNote)
        if (const auto recent = starts.find(semitone(move.frettedNote())); recent != starts.end())
            return {concert + median({recent->second.begin(), recent->second.end()}), wanted};
    if (wanted == Target::ownGuitar)
        if (const OwnFret* own = fretOf(move)) return {own->cents, wanted};
    return {concert, Target::concert};
}

const OwnFret* Targets::fretOf(const Move& move) const {
    const auto own =
        std::find_if(frets.begin(), frets.end(), [&](const OwnFret& fret) { return fret.note == semitone(move.to); });
    return own != frets.end() ? &*own : nullptr;
}

bool Targets::lacks(const Move& move) const { return wanted == Target::ownGuitar && fretOf(move) == nullptr; }

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
    const int fret = static_cast<int>(std::lround(first->level / 100.0));
    std::erase_if(frets, [fret](const OwnFret& known) { return known.note == fret; });
    frets.push_back({fret, first->level});
}

}  // namespace landfall
