// One way to make tries of the notes that are played; RepeatedTry, ChordTry and Recording are three. It hears the notes and tells
// of the tries. One thread, the analysis thread.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "src/practice/listener_event.h"
#include "src/practice/move_finder.h"
#include "src/practice/note_listener.h"

namespace landfall {

class TryMaker : public NoteHearer {
public:
    // All of them outlive it.
    struct Around {
        const NoteListener& notes;
        MoveFinder& finder;  // with the moves asked
        KeptSound& sound;    // so far; who makes tries of several strings forgets what nothing looks back at
        VoiceTracker& voices;
        std::vector<ListenerEvent>& events;
    };
    explicit TryMaker(const Around& given) : around(given) {}

    // Other moves are asked: what sounds now was not played for them.
    virtual void begin() = 0;
    virtual void finish() {}  // the input is over
    // The index of the move asked now.
    virtual std::size_t next() const = 0;
    // Strikes every step of the try that sounds, else of the last one; its number.
    virtual std::optional<int> discardLast() { return strike(lastEnded); }

    void strokeHeard(const Onset& stroke, int note) override;
    virtual void sound() {}  // there is more of it

protected:
    const std::vector<Move>& moves() const { return around.finder.moves; }
    Seconds now() const { return Seconds(around.notes.now()); }
    template <typename Event>
    void tell(Event event) {
        around.events.emplace_back(std::move(event));
    }
    // Tells that a try is struck; empty: there is none (0).
    std::optional<int> strike(int number);
    // Tells it, and learns the string's start note.
    void ended(const FoundStep& step);

    Around around;
    int lastEnded = 0;  // the number of the last try, unless it was struck
};

}  // namespace landfall
