// Within: a task with a time limit. The task's result, or a Fault no_answer when the limit comes first;
// the task is then cancelled and has ended by the time this returns. Include only where used: it brings
// in Asio's parallel groups.
#pragma once

#include <string>
#include <utility>
#include <variant>

#include <boost/asio/experimental/awaitable_operators.hpp>

#include "bench/clock/clock.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

template <class T>
Task<Result<T>> within(Clock& clock, double limit_s, Task<Result<T>> task, std::string where) {
    using namespace boost::asio::experimental::awaitable_operators;
    auto first = co_await (std::move(task) || clock.sleep_for(limit_s));
    if (first.index() == 0) co_return std::move(std::get<0>(first));
    co_return Fault{FaultCode::no_answer, "no answer within " + std::to_string(limit_s) + " s",
                    std::move(where), "check power, cable and address"};
}

}  // namespace tipwright::bench
