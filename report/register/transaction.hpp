// A write of several statements, taken back unless it is committed. Private to report/register.
#pragma once

#include "report/register/database.hpp"

namespace tipwright::report {

class Transaction {
public:
    explicit Transaction(Database& database) : database_(database) { database_.begin_write(); }
    ~Transaction() {
        if (!done_) database_.rollback();
    }
    Transaction(const Transaction&) = delete;
    Transaction& operator=(const Transaction&) = delete;
    void commit() {
        database_.commit();
        done_ = true;
    }

private:
    Database& database_;
    bool done_ = false;
};

}  // namespace tipwright::report
