#include "report/record/record.hpp"
