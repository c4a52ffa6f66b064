// How a student's moves land, the tries behind each figure, the sittings, and one try looked at again among its
// neighbours. One thread, the trainer's; what it shows is read elsewhere and handed in.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/opened_try.h"
#include "src/app/screens/progress_reading.h"
#include "src/app/screens/wish.h"

namespace landfall {

class ProgressScreen {
public:
    Wish act(const Intent& intent);
    const ProgressPages& view() const { return shown; }

    // The log is being read: until it is handed in, that is said.
    void reading();
    // Where one was stays where one is, as far as it is still there and the same student's.
    void setLog(StudentReview review);
    // What is to be read now, each once; to be asked after every call that may change it.
    std::optional<ToRead> toRead();
    void setTries(const ToRead& asked, Result<ReadTries> tries);
    void setNeighbours(const ToRead& asked, Result<Neighbours> neighbours);
    // One line: the log cannot be read, a try cannot be struck. What is shown stays.
    void say(std::string message);
    // The sound asked for by `read`; one that has been left meanwhile is ignored.
    void setTake(std::int64_t sittingId, int number, const Result<ReadTake>& take);
    void played();
    void cannotPlay();  // there is no sound output

private:
    enum class Page { overview, sittings, behind };

    const SittingSummary* sitting() const;                // the one chosen in the list
    const SittingSummary* sittingOf(std::int64_t) const;  // of a try
    const TryBehind* chosenTry() const;
    TryBehind* chosenTry();
    const KindReview* kind() const;
    std::vector<const MapCell*> places() const;
    const Progress* progress() const;
    std::vector<const DayMean*> days() const;
    void actOverview(const Intent& intent);
    void change(int by);
    void openFigure();
    void toBehind(const Behind& figure, std::string title);
    std::optional<TryChosen> actList(const Intent& intent);
    std::optional<TryChosen> actTries(const Intent& intent);
    std::optional<TryChosen> wanted(TryChosen::Kind kind);
    std::optional<TryChosen> openTry();
    std::optional<TryChosen> strike();
    std::optional<TryChosen> actOpened(const Intent& intent);
    // What a note that is begun now is about, with what is noted of it already; empty: nothing is chosen.
    std::optional<KeptNote> noteHere() const;
    void beginNote();
    std::optional<Wish::Written> actTyping(const Intent& intent);
    void chooseSitting(int index);
    void moveTry(int by);
    void pickOnOverview(int value);
    void refresh();
    void refreshSittings();
    void refreshOverview();
    void refreshTries();
    void refreshNeighbours();
    void refreshOpened();

    StudentReview log;
    std::vector<SittingSummary> sittings;  // the newest first
    Page page = Page::overview;
    Overview::Part part = Overview::Part::kind;
    int kindChosen = 0, place = 0, figure = 0, day = 0;
    int chosen = 0;  // of the sittings
    Behind behind;
    std::string behindTitle;
    // Of the chosen sitting or behind the figure; not read yet: empty, with `triesRead` as no such sitting's.
    std::vector<TryBehind> tries;
    int triesCount = 0;
    bool triesRead = false, triesAsked = false;
    std::optional<int> tryChosen;
    std::optional<Neighbours> neighbours;  // of the chosen try
    std::int64_t neighboursSitting = 0;
    int neighboursNumber = 0;
    bool opened = false;
    TrySound sound;  // of the opened try
    bool isReading = false;
    std::optional<Trace> trace;         // of the opened try, measured in its sound; for tries without a curve
    std::optional<std::string> typing;  // a note
    KeptNote typedFor;
    std::string message;
    ProgressPages shown;
};

}  // namespace landfall
