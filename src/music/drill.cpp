#include "src/music/drill.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "src/music/chord_move.h"

namespace landfall {

namespace {

double stepWidth(const DrillStep& step) { return std::abs(step.toSemitones - step.fromSemitones); }

Error noPlace(const Drill& drill, const Guitar& guitar, NeckPlace place) {
    std::string message = fmt::format("'{}' asks for string {}, fret {}: ", drill.name, place.string, place.fret);
    if (place.string > guitar.stringCount())
        message += fmt::format("this guitar has {} strings; choose another place, or set the guitar's tuning",
                               guitar.stringCount());
    else
        message += fmt::format("this neck ends at fret {}{}; choose a lower place{}", guitar.highestPlayedFret(),
                               guitar.capo > 0 ? fmt::format(" above the capo on {}", guitar.capo) : "",
                               guitar.capo > 0 ? " or take the capo off" : "");
    return {Error::Code::badInput, std::move(message)};
}

std::string describeStep(const DrillStep& step) {
    const GestureKind& kind = kindOf(step.gesture);
    std::string text = kind.bends && step.toSemitones == 0.0
                           ? fmt::format("{} to the note", kind.name)
                           : filledIn(kind.task, step.gesture, step.toSemitones - step.fromSemitones);
    if (step.fretOffset != 0)
        text += fmt::format(" {} fret{} {}", std::abs(step.fretOffset), std::abs(step.fretOffset) == 1 ? "" : "s",
                            step.fretOffset > 0 ? "up" : "down");
    return text;
}

}  // namespace

double widestBend(const Drill& drill) {
    double widest = 0.0;
    for (const DrillStep& step : drill.steps)
        if (kindOf(step.gesture).bends) {
            widest = std::max({widest, std::abs(step.fromSemitones), std::abs(step.toSemitones)});
            for (const StringStep& other : step.with)
                widest = std::max({widest, std::abs(other.fromSemitones), std::abs(other.toSemitones)});
        }
    return widest;
}

bool isDemanding(const Drill& drill) { return widestBend(drill) >= 2.0; }

bool hasDoubleBend(const Drill& drill) {
    return std::any_of(drill.steps.begin(), drill.steps.end(), [](const DrillStep& step) {
        return kindOf(step.gesture).bends
               && std::any_of(step.with.begin(), step.with.end(),
                              [](const StringStep& other) { return other.toSemitones != other.fromSemitones; });
    });
}

bool hasChordSlide(const Drill& drill) {
    const bool several =
        std::any_of(drill.with.begin(), drill.with.end(), [](const auto& each) { return !each.empty(); });
    return several && std::any_of(drill.steps.begin(), drill.steps.end(), [](const DrillStep& step) {
               return kindOf(step.gesture).overFrets;
           });
}

bool hasOctaveSlide(const Drill& drill) {
    return std::any_of(drill.steps.begin(), drill.steps.end(),
                       [](const DrillStep& step) { return kindOf(step.gesture).overFrets && stepWidth(step) >= 12.0; });
}

namespace {

// What one string does in a step.
Result<Move> moveOf(const Drill& drill, const DrillStep& step, StringStep way, const Guitar& guitar, NeckPlace place) {
    const NeckPlace fretted{place.string, place.fret + step.fretOffset};
    if (!hasPlace(guitar, fretted)) return noPlace(drill, guitar, fretted);
    Move move;
    move.gesture = step.gesture;
    const double base = pitchAt(guitar, fretted).value;
    move.from = MidiPitch(base + way.fromSemitones);
    move.to = MidiPitch(base + way.toSemitones);
    move.place = fretted;
    if (!kindOf(step.gesture).overFrets) return move;
    move.place->fret += static_cast<int>(std::lround(way.fromSemitones));
    move.targetFret = fretted.fret + static_cast<int>(std::lround(way.toSemitones));
    for (const int fret : {move.place->fret, *move.targetFret})
        if (!hasPlace(guitar, {place.string, fret})) return noPlace(drill, guitar, {place.string, fret});
    return move;
}

StringStep wayOf(const DrillStep& step, std::size_t other) {
    if (other < step.with.size()) return step.with[other];
    return kindOf(step.gesture).overFrets ? StringStep{step.fromSemitones, step.toSemitones} : StringStep{};
}

// The other strings at a place; none where the drill asks for one string.
std::vector<NeckPlace> othersAt(const Drill& drill, NeckPlace place) {
    const auto at =
        static_cast<std::size_t>(std::find(drill.places.begin(), drill.places.end(), place) - drill.places.begin());
    return at < drill.with.size() ? drill.with[at] : std::vector<NeckPlace>();
}

}  // namespace

Result<std::vector<Move>> movesAt(const Drill& drill, const Guitar& guitar, NeckPlace place) {
    std::vector<Move> moves;
    const std::vector<NeckPlace> others = othersAt(drill, place);
    for (const DrillStep& step : drill.steps) {
        auto move = moveOf(drill, step, {step.fromSemitones, step.toSemitones}, guitar, place);
        if (!move) return move.error();
        for (std::size_t i = 0; i < others.size(); ++i) {
            auto other = moveOf(drill, step, wayOf(step, i), guitar, others[i]);
            if (!other) return other.error();
            if (std::abs(other->width()) < 1e-9) other->gesture = Gesture::note;
            move->with.push_back(std::move(*other));
        }
        if (const std::string fault = others.empty() ? std::string() : faultOf(*move); !fault.empty())
            return Error{Error::Code::badInput,
                         fmt::format("'{}' at {}: {}", drill.name, placeName(guitar, place), fault)};
        moves.push_back(std::move(*move));
    }
    return moves;
}

Result<std::vector<Move>> allMoves(const Drill& drill, const Guitar& guitar) {
    std::vector<Move> moves;
    for (const NeckPlace place : drill.places) {
        const auto once = movesAt(drill, guitar, place);
        if (!once) return once.error();
        for (int i = 0; i < drill.sets * drill.tries; ++i) moves.insert(moves.end(), once->begin(), once->end());
    }
    return moves;
}

FittedPlaces placesOn(const Drill& drill, const Guitar& guitar) {
    FittedPlaces fitted;
    for (const NeckPlace place : drill.places) {
        if (const auto moves = movesAt(drill, guitar, place)) fitted.places.push_back(place);
        else fitted.missing.push_back(moves.error().message);
    }
    return fitted;
}

int totalTries(const Drill& drill) { return static_cast<int>(drill.places.size()) * drill.sets * drill.tries; }

Seconds tryLength(const Drill& drill) {
    const double step = drill.subject == Subject::slow ? 6.0 : 3.0;
    return Seconds(2.0 + step * static_cast<double>(drill.steps.size()));
}

std::string minutesWords(Seconds length) {
    return fmt::format("{:g} min", std::max(0.5, std::round(length.value / 30.0) / 2.0));
}

Seconds drillLength(const Drill& drill) {
    const int sets = static_cast<int>(drill.places.size()) * drill.sets;
    return static_cast<double>(totalTries(drill)) * tryLength(drill) + std::max(0, sets - 1) * drill.rest;
}

std::string describeSteps(const Drill& drill) {
    std::string text;
    for (const DrillStep& step : drill.steps) text += (text.empty() ? "" : ", ") + describeStep(step);
    return text;
}

std::string describePlaces(const Drill& drill, const Guitar& guitar) {
    std::string text;
    int string = 0;
    for (const NeckPlace place : drill.places) {
        if (const auto others = othersAt(drill, place); !others.empty()) {
            text += (text.empty() ? "" : "; ") + shapeName(guitar, place, others);
            continue;
        }
        if (place.string != string) text += (text.empty() ? "" : "; ") + stringName(guitar, place.string) + " ";
        else text += ", ";
        text += fmt::format("{}", place.fret);
        string = place.string;
    }
    return text;
}

}  // namespace landfall
