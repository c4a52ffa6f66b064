#include "src/store/notes.h"

#include <fmt/core.h>

#include "src/store/log_schema.h"
#include "src/store/sql.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

std::vector<KeptNote> read(Statement& row) {
    std::vector<KeptNote> found;
    while (row.next())
        found.push_back({row.text(0), row.isFilled(1) ? row.whole(1) : 0,
                         row.isFilled(2) ? static_cast<int>(row.whole(2)) : 0,
                         CalendarTime(std::chrono::milliseconds(row.whole(3))), row.text(4)});
    return found;
}

constexpr const char* noteColumns = "SELECT uuid, sitting, number, written_ms, text FROM note WHERE text <> '' AND ";

// Whose sitting it is says the log, not the caller.
bool isThere(Connection& sql, const Student& student, const KeptNote& note) {
    Statement row(sql.handle(),
                  "SELECT 1 FROM student p WHERE p.uuid = ?1 AND (?2 = 0 OR EXISTS(SELECT 1 FROM sitting s WHERE s.id "
                  "= ?2 AND s.student = p.id AND (?3 = 0 OR EXISTS(SELECT 1 FROM try t WHERE t.sitting = s.id AND "
                  "t.number = ?3))))");
    return row.bind(student.uuid).bind(note.sitting).bind(std::int64_t{note.number}).next();
}

}  // namespace

std::string subjectOf(const KeptNote& note) {
    if (note.sitting == 0) return "the lesson";
    return note.number == 0 ? fmt::format("sitting {}", note.sitting)
                            : fmt::format("try {}.{}", note.sitting, note.number);
}

Result<void> keepNote(Log& log, const Student& student, const KeptNote& note) {
    if (characterCount(note.text) > longestNote)
        return Error{Error::Code::badInput,
                     fmt::format("a note has {} characters at the most: shorten this one", longestNote)};
    bool there = false;
    const auto done = log.withSql([&](Connection& sql) {
        sql.transaction([&] {
            if (!note.uuid.empty()) {
                Statement change(sql.handle(),
                                 "UPDATE note SET text = ? WHERE uuid = ? AND student = (SELECT id FROM "
                                 "student WHERE uuid = ?)");
                change.bind(note.text).bind(note.uuid).bind(student.uuid).finish();
                there = sql.changes() == 1;
                return;
            }
            there = isThere(sql, student, note);
            if (!there || note.text.empty()) return;
            Statement add(sql.handle(),
                          fmt::format("INSERT INTO note SELECT {}, id, nullif(?, 0), nullif(?, 0), ?, ? FROM student "
                                      "WHERE uuid = ?",
                                      newUuid));
            add.bind(note.sitting)
                .bind(std::int64_t{note.number})
                .bind(static_cast<std::int64_t>(note.written.time_since_epoch().count()))
                .bind(note.text)
                .bind(student.uuid)
                .finish();
        });
    });
    if (!done) return done.error();
    if (there) return {};
    return Error{
        Error::Code::notFound,
        fmt::format("what the note is about is not there any more, or is not {}'s: it is not kept", student.name)};
}

Result<std::vector<KeptNote>> notesOf(Log& log, const Student& student) {
    std::vector<KeptNote> found;
    const auto done = log.withSql([&](Connection& sql) {
        Statement row(sql.handle(), fmt::format("{}student = (SELECT id FROM student WHERE uuid = ?) ORDER BY "
                                                "written_ms DESC, uuid",
                                                noteColumns));
        row.bind(student.uuid);
        found = read(row);
    });
    if (!done) return done.error();
    return found;
}

Result<std::vector<KeptNote>> notesOn(Log& log, std::int64_t sitting) {
    std::vector<KeptNote> found;
    const auto done = log.withSql([&](Connection& sql) {
        Statement row(sql.handle(), fmt::format("{}sitting = ? ORDER BY number, written_ms, uuid", noteColumns));
        row.bind(sitting);
        found = read(row);
    });
    if (!done) return done.error();
    return found;
}

}  // namespace landfall
