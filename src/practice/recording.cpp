#include "src/practice/recording.h"

#include "src/practice/recording_layout.h"

namespace landfall {

namespace {

constexpr std::size_t pointsLeast = 4;  // points of a note that counts

std::vector<MidiPitch> staysOf(const Note& note) {
    std::vector<MidiPitch> stays;
    for (const Stretch& stretch : note.stretches())
        if (stretch.stays()) stays.emplace_back(stretch.level / 100.0);
    if (const auto start = note.start(); stays.empty() && start) stays.emplace_back(*start / 100.0);
    return stays;
}

}  // namespace

void Recording::begin() {
    left = around.notes.note().has_value();
    over = false;
    heard.clear();
}

void Recording::noteEnded(Note note, bool /*rings*/) {
    if (!left && note.points().size() >= pointsLeast) heard.push_back(std::move(note));
    left = false;
}

void Recording::finish() {
    const RecordingLayout layout(heard, around.finder);
    const auto& places = layout.places();
    bool matched = false;
    for (std::size_t p = 0, k = 0; p < places.size();) {
        const RecordingLayout::Choice choice = layout.choice(p, k, matched);
        const RecordingLayout::Place& place = places[p];
        if (choice.steps > 0) {
            auto steps = layout.steps(place, choice.move, matched);  // again: targets have been learned meanwhile
            around.finder.lookBeside(steps, around.sound.end(), true);
            for (std::size_t i = 0; i < choice.steps && i < steps.size(); ++i) {
                const Landing& landing = steps[i].landing;
                tell(TryBegan{now(), landing.onset, landing.note, landing.tryNumber, landing.moveNumber, false});
                if (steps[i].landed()) tell(FinalLanding{now(), landing});
                ended(steps[i]);
            }
            matched = true;
            k = choice.move + choice.steps;
        } else if (place.stretch == 0) {
            matched = false;
        }
        const bool last = choice.nextPlace >= places.size() || places[choice.nextPlace].note != place.note;
        if (last && !matched) {
            const Note& note = heard[place.note];
            around.finder.targets.learnFret(note);
            if (note.points().size() >= toldLeast)
                tell(Noodling{now(), note.number, {}, Seconds(note.onset), staysOf(note)});
        }
        p = choice.nextPlace;
    }
    over = true;
    heard.clear();
}

}  // namespace landfall
