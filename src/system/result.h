// A value or an error in words, for every boundary of the program. Plain values, any thread.
#pragma once

#include <string>
#include <utility>
#include <variant>

#include "src/system/printable.h"

namespace landfall {

// `message` is one line that names the thing (file and line, device, statement) and says what to do. Whatever is in
// that name, it stays one line and steers no terminal.
struct Error {
    enum class Code {
        notFound,
        unreadable,
        unwritable,
        badInput,
        busy,
        unsupported,
        lost,
        full,
        corrupt,
        tooNew,
        failed
    };
    Error() = default;
    Error(Code what, std::string_view said) : code(what), message(printable(said)) {}
    Code code = Code::failed;
    std::string message;
};

template <typename T>
class [[nodiscard]] Result {
public:
    Result(T value) : state(std::in_place_index<0>, std::move(value)) {}
    Result(Error error) : state(std::in_place_index<1>, std::move(error)) {}

    explicit operator bool() const { return state.index() == 0; }
    T& value() { return std::get<0>(state); }
    const T& value() const { return std::get<0>(state); }
    T& operator*() { return value(); }
    const T& operator*() const { return value(); }
    T* operator->() { return &value(); }
    const T* operator->() const { return &value(); }
    const Error& error() const { return std::get<1>(state); }

private:
    std::variant<T, Error> state;
};

template <>
class [[nodiscard]] Result<void> {
public:
    Result() = default;
    Result(Error error) : failure(std::move(error)), failed(true) {}

    explicit operator bool() const { return !failed; }
    const Error& error() const { return failure; }

private:
    Error failure;
    bool failed = false;
};

}  // namespace landfall
