// Columns of a Cholesky factor, made one after another. For .cpp files of this folder only: it brings in
// Eigen.
#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <vector>

namespace tipwright::calib {

class FactorColumns {
public:
    FactorColumns(std::size_t rows, std::size_t columns)
        : stride_((rows + at_once - 1) / at_once * at_once), values_(stride_ * columns) {}

    double* operator[](std::size_t column) { return values_.data() + column * stride_; }
    const double* operator[](std::size_t column) const { return values_.data() + column * stride_; }
    std::size_t stride() const { return stride_; }

    // Takes off column j what the columns before it hold of it: the sum of L(i, k) L(j, k) over k < j, in
    // this order for each row, so that it is the same to the last bit however many rows go side by side: no
    // product waits for the one before it. What stands above the diagonal is of no meaning.
    void take_off_earlier(std::size_t j) {
        for (std::size_t begin = j / at_once * at_once; begin < stride_; begin += at_once) {
            Rows sums = Rows::Zero();
            for (std::size_t k = 0; k < j; ++k) {
                const double* const earlier = (*this)[k];
                sums += Eigen::Map<const Rows>(earlier + begin) * earlier[j];
            }
            Eigen::Map<Rows>((*this)[j] + begin) -= sums;
        }
    }

private:
    static constexpr std::size_t at_once = 8;
    using Rows = Eigen::Array<double, at_once, 1>;
    std::size_t stride_;
    std::vector<double> values_;
};

}  // namespace tipwright::calib
