package compare

import "math"

// rankWork is how many additions a rank statistic's distribution may take; beyond, the normal distribution stands for it,
// with an error that no longer shows.
const rankWork = 3e7

// signedRankDepth returns how many of the ordered means, from either end, lie outside of the 95 % interval, plus one; 0
// where none may. It is the number of values of the signed-rank statistic of n changes, from its least on, that together
// have at most 2.5 %.
func signedRankDepth(n int) int64 {
	top := n * (n + 1) / 2
	if float64(n)*float64(top) > rankWork {
		return normalDepth(float64(top)/2, float64(top)*float64(2*n+1)/12)
	}
	share := make([]float64, top+1)
	share[0] = 1
	for rank := 1; rank <= n; rank++ {
		for s := top; s >= 0; s-- {
			with := 0.0
			if s >= rank {
				with = share[s-rank]
			}
			share[s] = (share[s] + with) / 2
		}
	}
	return depth(share)
}

// rankSumDepth is the same for the sum of the blocks' rank-sum statistics: the number of pairs in which A's is larger.
func rankSumDepth(blocks []shared) int64 {
	steps, total, middle, variance := 0.0, 0.0, 0.0, 0.0
	for _, b := range blocks {
		m, n := float64(b.a), float64(len(b.disks)-b.a)
		total += m * n
		steps += (m+n)*m*(m*n+1) + m*n*total
		middle += m * n / 2
		variance += m * n * (m + n + 1) / 12
		if m+n > 900 {
			steps = math.Inf(1)
		}
	}
	if steps > rankWork {
		return normalDepth(middle, variance)
	}
	all := []float64{1}
	for _, b := range blocks {
		all = convolve(all, rankSum(b.a, len(b.disks)-b.a))
	}
	return depth(all)
}

// rankSum returns the distribution of the number of pairs in which one of m is larger than one of n, when any order of
// all is as likely as any other: the sum of m ranks out of 0 … m+n-1, less the least that it can be.
func rankSum(m, n int) []float64 {
	ranks := stratum{a: m}
	for rank := range m + n {
		ranks.scores = append(ranks.scores, rank)
	}
	least := m * (m - 1) / 2
	return ranks.sums()[least : least+m*n+1]
}

// depth returns how many values from the least on together have at most 2.5 %.
func depth(share []float64) (k int64) {
	sum := 0.0
	for _, x := range share {
		sum += x
		if sum > alpha/2+1e-12 {
			break
		}
		k++
	}
	return k
}

// normalDepth is depth for a statistic of so many values that it is as good as normal.
func normalDepth(mean, variance float64) int64 {
	return int64(max(0, math.Floor(mean-normalQuantile(1-alpha/2)*math.Sqrt(variance)+0.5)))
}

// normalQuantile is the standard normal distribution's.
func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
