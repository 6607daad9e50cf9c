//! Where the nodes of a level lie in memory: red and black apart, rows of odd length.
//!
//! With an odd number of places per row and per plane the colour of a node is the parity of its
//! place, and all neighbours of a run of nodes of one colour are runs of the other colour. A sweep
//! over one colour is then one long loop over contiguous arrays, without rows, masks or gaps.

/// Places per colour are a multiple of this, so that no loop has a remainder.
pub(crate) const LANES: usize = 16;

/// Red-black arrangement of a tensor grid. An array holds the red block, then the black one; each
/// block is `pad` zeros, `half` nodes, `pad` zeros.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    pub dims: [usize; 3],
    /// Places from a node to the next one along each axis; odd.
    strides: [usize; 3],
    /// Places per colour.
    pub half: usize,
    /// Zeros before and after the places of a colour.
    pub pad: usize,
    /// Entries of one colour's block.
    pub block: usize,
}

impl Layout {
    pub fn new(dims: [usize; 3]) -> Self {
        let row = dims[0] | 1;
        let plane = row * (dims[1] | 1);
        let reach = if dims[2] > 1 { plane } else { row };
        let half = (plane * dims[2]).div_ceil(2).next_multiple_of(LANES);
        let pad = (reach / 2 + 1).next_multiple_of(LANES);
        Self {
            dims,
            strides: [1, row, plane],
            half,
            pad,
            block: half + 2 * pad,
        }
    }

    /// Entries of an array over the level.
    pub fn entries(&self) -> usize {
        2 * self.block
    }

    /// Entries of a row that belong to its even and to its odd nodes.
    pub fn row_halves(&self) -> [usize; 2] {
        [self.dims[0].div_ceil(2), self.dims[0] / 2]
    }

    /// Where the even and the odd nodes of row (j, k) begin in an array.
    pub fn row(&self, j: usize, k: usize) -> [usize; 2] {
        let place = self.strides[1] * j + self.strides[2] * k;
        let even = (place & 1) * self.block + self.pad + (place >> 1);
        let next = place + 1;
        let odd = (next & 1) * self.block + self.pad + (next >> 1);
        [even, odd]
    }

    /// Index of a node in an array.
    pub fn at(&self, i: usize, j: usize, k: usize) -> usize {
        self.row(j, k)[i & 1] + (i >> 1)
    }

    /// Distance, within the other colour's block, from the place number of a node of `colour` to
    /// that of its neighbour ahead (to be added) and behind (to be taken off) along `axis`.
    pub fn reach(&self, colour: usize, axis: usize) -> (usize, usize) {
        let (less, more) = (self.strides[axis] / 2, self.strides[axis].div_ceil(2));
        if colour == 0 {
            (less, more)
        } else {
            (more, less)
        }
    }

    /// The largest of these distances.
    pub fn farthest(&self) -> usize {
        let reach = if self.dims[2] > 1 {
            self.strides[2]
        } else {
            self.strides[1]
        };
        reach.div_ceil(2)
    }

    /// Values in natural order, brought into this arrangement.
    #[cfg(test)]
    pub fn arranged<T: Copy + Default>(&self, natural: &[T]) -> Vec<T> {
        let mut out = vec![T::default(); self.entries()];
        self.arrange(natural, &mut out);
        out
    }

    /// The same into an array that is there already; gaps are left alone.
    pub fn arrange<T: Copy>(&self, natural: &[T], out: &mut [T]) {
        for (r, row) in natural.chunks_exact(self.dims[0]).enumerate() {
            self.arrange_row(r, row, out);
        }
    }

    /// The same for the values of row `r`.
    #[inline]
    pub fn arrange_row<T: Copy>(&self, r: usize, row: &[T], out: &mut [T]) {
        let [even, odd] = self.row(r % self.dims[1], r / self.dims[1]);
        for (parity, start) in [even, odd].into_iter().enumerate() {
            let out = &mut out[start..start + self.row_halves()[parity]];
            for (t, value) in out.iter_mut().enumerate() {
                *value = row[2 * t + parity];
            }
        }
    }

    /// Copies arranged values back into natural order.
    pub fn natural<T: Copy>(&self, arranged: &[T], out: &mut [T]) {
        for (r, row) in out.chunks_exact_mut(self.dims[0]).enumerate() {
            let starts = self.row(r % self.dims[1], r / self.dims[1]);
            for (parity, start) in starts.into_iter().enumerate() {
                let values = &arranged[start..start + self.row_halves()[parity]];
                for (t, value) in values.iter().enumerate() {
                    row[2 * t + parity] = *value;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Layout;

    #[test]
    fn neighbours_are_where_reach_says() {
        for dims in [[4, 6, 3], [5, 4, 2], [3, 3, 5], [7, 4, 1]] {
            let layout = Layout::new(dims);
            let strides = [1, dims[0], dims[0] * dims[1]];
            let natural: Vec<usize> = (1..=dims.iter().product()).collect();
            let arranged = layout.arranged(&natural);
            for k in 0..dims[2] {
                for j in 0..dims[1] {
                    for i in 0..dims[0] {
                        let at = layout.at(i, j, k);
                        let here = 1 + i + strides[1] * j + strides[2] * k;
                        assert_eq!(arranged[at], here);
                        let colour = at / layout.block;
                        let other = at - colour * layout.block + (1 - colour) * layout.block;
                        for d in 0..3 {
                            let index = [i, j, k][d];
                            let (ahead, behind) = layout.reach(colour, d);
                            if index + 1 < dims[d] {
                                assert_eq!(arranged[other + ahead], here + strides[d]);
                            }
                            if index > 0 {
                                assert_eq!(arranged[other - behind], here - strides[d]);
                            }
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn arranging_there_and_back_changes_nothing() {
        let layout = Layout::new([6, 5, 4]);
        let natural: Vec<u16> = (0..120).collect();
        let mut back = vec![0; 120];
        layout.natural(&layout.arranged(&natural), &mut back);
        assert_eq!(back, natural);
    }
}
