// Sittings and their tries, totals of each gesture, and one try looked at again. One thread, the trainer's; what it shows is read elsewhere and handed in.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/history_reading.h"

namespace landfall {

// What to do now, with one try.
struct HistoryWish {
    enum class Kind {
        read,           // readTake, then setTake; a sound still playing ends
        play, stop,     // its sound; played() when it is over
        strike, restore // in the log: through the sitting's own writer where it is the one being written (same token), else Log::setStruck
    };
    Kind kind = Kind::read;
    std::int64_t sittingId = 0, token = 0;
    Guitar guitar;
    LoggedTry oneTry;
};

class HistoryScreen {
public:
    std::optional<HistoryWish> act(const Intent& intent);
    const History& view() const { return shown; }

    // The log is being read: until it is handed in, that is said.
    void reading();
    // Where one was stays where one is, as far as it is still there.
    void setLog(std::vector<ReadSitting> sittings);
    // One line: the log cannot be read, a try cannot be struck. What is shown stays.
    void say(std::string message);
    // The trace asked for by `read`; one that has been left meanwhile is ignored.
    void setTake(std::int64_t sittingId, int number, const Result<ReadTake>& take);
    void played();
    void cannotPlay();  // there is no sound output

private:
    const ReadSitting* sitting() const;
    LoggedTry* chosenTry();
    std::optional<HistoryWish> wish(HistoryWish::Kind kind);
    std::optional<HistoryWish> openTry();
    std::optional<HistoryWish> strike();
    std::optional<HistoryWish> actOpened(const Intent& intent);
    void moveTry(int by);
    void refreshTotals();
    void refresh();
    void refreshOpened();

    std::vector<ReadSitting> sittings;  // the newest first
    int chosen = 0;                     // of them
    std::optional<int> tryChosen;
    bool opened = false, playing = false, noOutput = false;
    bool isReading = false;
    std::optional<Trace> trace;         // of the opened try
    std::string noTrace;                // why there is none
    std::string message;
    History shown;
};

}  // namespace landfall
