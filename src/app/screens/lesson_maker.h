// A lesson being put together by a teacher: drills and phrases with their goals, a note, and the file it is saved as. One
// thread, the trainer's; reads and writes no file.
#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/wish.h"
#include "src/formats/lesson_file.h"
#include "src/formats/phrase_file.h"
#include "src/music/lesson.h"
#include "src/system/result.h"

namespace landfall {

class LessonMaker {
public:
    LessonMaker();

    Wish act(const Intent& intent);
    const SettingList& view() const { return shown; }

    // What may be asked beside what is built in.
    void setOwn(std::vector<Drill> drills, std::vector<PhraseFile> phrases);
    const std::vector<PhraseFile>& ownPhrases() const { return phrases; }
    // Where it was saved last; empty: not yet.
    const std::filesystem::path& file() const { return savedAs; }
    void saved(const Result<std::filesystem::path>& as);
    // What may be opened again, and one that was read for it.
    void setSaved(std::vector<std::filesystem::path> files);
    void opened(const std::filesystem::path& from, Result<LessonFile> read);

private:
    struct Row {
        SettingRow shown;
        std::function<void(int)> step{};
        std::function<Wish()> choose{};
        std::optional<std::size_t> task{};  // the one it is of
    };
    void refresh();
    void addRow(std::string label, std::string value, SettingRow::Kind kind = SettingRow::Kind::single);
    void addText(std::string label, std::string text, std::string empty, std::size_t longest,
                 std::function<void(std::string)> keep, SettingRow::Kind kind = SettingRow::Kind::single);
    void addTask(std::size_t index);
    void addGoals(std::size_t index);
    void addTempo(std::size_t index);
    Wish typeInto(const Intent& intent);
    void takeOut(std::size_t task);
    void moveTask(std::size_t task, int by);
    void addSaved();
    Wish openSaved();
    void add();
    Wish save();
    std::vector<LessonTask> mayBeAdded() const;

    Lesson lesson;
    std::vector<LessonTask> known;    // drills and phrases, each with its usual goals
    std::vector<PhraseFile> phrases;  // the player's own among them
    std::vector<Row> rows;
    int selected = 0;
    std::size_t offered = 0;          // of what may be added
    std::optional<std::size_t> open;  // the task whose goals are unfolded
    std::optional<std::string> typing;
    std::size_t typedAtMost = 0;  // bytes
    std::function<void(std::string)> keepTyped;
    std::filesystem::path savedAs;
    std::vector<std::filesystem::path> files;  // saved, the latest first
    std::size_t fileChosen = 0;
    bool unsaved = false, leaves = false;  // has changed since; what is not saved is to be left
    std::string message;
    SettingList shown;
};

}  // namespace landfall
