namespace Traceability.Testing.Scope.Facts;

/// <summary>Choices by numbers of any size, used up in order, then zero: the same numbers choose the same, small ones the simplest.</summary>
/// <param name="numbers">The numbers.</param>
/// <param name="holesMax">At most so many records are incomplete or missing.</param>
internal sealed class Choices(IReadOnlyList<int> numbers, int holesMax)
{
    private int _next;
    private int _holes;

    /// <summary>One of so many.</summary>
    public int Pick(int below) => below <= 1 || _next >= numbers.Count ? 0 : Math.Abs(numbers[_next++] % below);

    /// <summary>True once in so many times.</summary>
    public bool Chance(int oneIn) => Pick(oneIn) == 1;

    /// <summary>The same for what leaves something open, while that may still be.</summary>
    public bool Hole(int oneIn)
    {
        var isHole = Chance(oneIn) && _holes < holesMax;
        _holes += isHole ? 1 : 0;
        return isHole;
    }

    /// <summary>One of them.</summary>
    public T Of<T>(IReadOnlyList<T> values) => values[Pick(values.Count)];
}
