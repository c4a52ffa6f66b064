#include "src/store/lessons.h"

#include "src/store/sql.h"

namespace landfall {

namespace {

constexpr const char* theirs = "student = (SELECT id FROM student WHERE uuid = ?)";

}  // namespace

Result<void> keepLesson(Log& log, const Student& student, const KeptLesson& lesson) {
    return log.withSql([&](Connection& sql) {
        sql.transaction([&] {
            Statement add(sql.handle(),
                          "INSERT INTO lesson(student, title, received_ms, content, put_away) SELECT id, ?, ?, ?, ? "
                          "FROM student WHERE uuid = ? ON CONFLICT(student, title) DO UPDATE SET put_away = "
                          "excluded.put_away, content = excluded.content, received_ms = CASE WHEN content = "
                          "excluded.content THEN received_ms ELSE excluded.received_ms END");
            add.bind(lesson.title)
                .bind(static_cast<std::int64_t>(lesson.received.time_since_epoch().count()))
                .bind(lesson.content)
                .bind(lesson.putAway)
                .bind(student.uuid)
                .finish();
            if (sql.changes() != 1) throw SqlFailure::damaged(student.name + " is not there");
        });
    });
}

Result<void> keepLessonFor(const std::filesystem::path& file, const std::string& student, const KeptLesson& lesson) {
    std::error_code ignored;
    if (file.has_parent_path()) std::filesystem::create_directories(file.parent_path(), ignored);
    auto log = Log::open(file, Log::Access::write);
    if (!log) return log.error();
    const auto known = log->students();
    if (!known) return known.error();
    for (const Student& each : *known)
        if (each.name == student) return keepLesson(*log, each, lesson);
    const auto made = log->addStudent(student);
    return made ? keepLesson(*log, *made, lesson) : Result<void>(made.error());
}

Result<std::vector<KeptLesson>> keptLessons(Log& log, const Student& student) {
    std::vector<KeptLesson> found;
    const auto read = log.withSql([&](Connection& sql) {
        Statement row(sql.handle(), std::string("SELECT title, received_ms, content, put_away FROM lesson WHERE ")
                                        + theirs + " ORDER BY received_ms DESC, title");
        row.bind(student.uuid);
        while (row.next())
            found.push_back(
                {row.text(0), CalendarTime(std::chrono::milliseconds(row.whole(1))), row.text(2), row.whole(3) != 0});
    });
    if (!read) return read.error();
    return found;
}

Result<bool> putAwayLesson(Log& log, const Student& student, const std::string& title, bool putAway) {
    bool there = false;
    const auto done = log.withSql([&](Connection& sql) {
        Statement change(sql.handle(), std::string("UPDATE lesson SET put_away = ? WHERE title = ? AND ") + theirs);
        change.bind(putAway).bind(title).bind(student.uuid).finish();
        there = sql.changes() == 1;
    });
    if (!done) return done.error();
    return there;
}

}  // namespace landfall
