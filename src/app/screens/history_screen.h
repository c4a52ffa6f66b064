// Sittings and their tries, totals of each gesture, and one try looked at again. One thread, the trainer's; what it
// shows is read elsewhere and handed in.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/history_reading.h"
#include "src/app/screens/wish.h"

namespace landfall {

class HistoryScreen {
public:
    Wish act(const Intent& intent);
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
    std::optional<TryChosen> actList(const Intent& intent);
    std::optional<TryChosen> wanted(TryChosen::Kind kind);
    std::optional<TryChosen> openTry();
    std::optional<TryChosen> strike();
    std::optional<TryChosen> actOpened(const Intent& intent);
    void moveTry(int by);
    void refreshTotals();
    void refresh();
    void refreshOpened();

    std::vector<ReadSitting> sittings;  // the newest first
    int chosen = 0;                     // of them
    std::optional<int> tryChosen;
    bool opened = false, playing = false, noOutput = false;
    bool isReading = false;
    std::optional<Trace> trace;  // of the opened try
    std::string noTrace;         // why there is none
    std::string message;
    History shown;
};

}  // namespace landfall
