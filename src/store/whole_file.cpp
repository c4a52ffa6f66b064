#include "src/store/whole_file.h"

#include <fstream>
#include <system_error>

#include <fmt/core.h>

#include "src/store/sql.h"

namespace landfall {

namespace {

Error copyError(const std::string& file, const SqlFailure& failure) {
    const Error error = errorOf(file, failure);
    if (error.code == Error::Code::full)
        return {error.code, fmt::format("the disk of {} is full: free some space there, or name another file", file)};
    return {error.code, fmt::format("{} could not be written whole, and is not there: name another file", file)};
}

}  // namespace

Result<void> writeAside(const std::filesystem::path& to,
                        const std::function<void(const std::filesystem::path& part)>& write) {
    std::error_code ignored;
    if (std::filesystem::exists(to, ignored))
        return Error{Error::Code::badInput,
                     fmt::format("{} is there already: name a file that is not there yet", to.string())};
    if (to.has_parent_path() && !std::filesystem::is_directory(to.parent_path(), ignored))
        return Error{Error::Code::notFound, fmt::format("the folder {} does not exist: make it, or name another file",
                                                        to.parent_path().string())};
    const std::filesystem::path part = to.string() + ".part";
    std::filesystem::remove(part, ignored);  // of one that was broken off
    try {
        std::ofstream(part).close();
        std::filesystem::permissions(part, std::filesystem::perms::owner_read | std::filesystem::perms::owner_write,
                                     ignored);
        write(part);
        Connection written;
        written.open(part, Connection::Mode::read, "", Seconds(1.0));
        if (written.text("PRAGMA quick_check(1)") != "ok") throw SqlFailure::damaged();
    } catch (const SqlFailure& failure) {
        std::filesystem::remove(part, ignored);
        return copyError(to.string(), failure);
    }
    std::error_code renamed;
    std::filesystem::rename(part, to, renamed);
    if (renamed)
        return Error{Error::Code::unwritable, fmt::format("{} cannot be written: {}", to.string(), renamed.message())};
    return {};
}

}  // namespace landfall
