using System.Globalization;

namespace Traceability.Testing;

/// <summary>How long a test of faults is to be, and where it notes what it measured.</summary>
public static class LongForm
{
    /// <summary>Name of the variable with the file that measured lines are added to; deploy/test --long sets it.</summary>
    private const string ResultsVariable = "TRACEABILITY_TEST_RESULTS";

    private static readonly Lock Writing = new();

    /// <summary>The number for the form that was asked for.</summary>
    public static int Of(int few, int many) => TestLength.IsLong ? many : few;

    /// <summary>Notes what a test has shown, as a row of a table; nothing where nobody asked for it.</summary>
    /// <param name="test">What was tested, with the number of its line in the test plan.</param>
    /// <param name="done">How much of it: counts and seeds.</param>
    /// <param name="measured">What came out.</param>
    public static void Note(string test, string done, string measured)
    {
        if (Environment.GetEnvironmentVariable(ResultsVariable) is { Length: > 0 } file)
        {
            lock (Writing)
            {
                File.AppendAllText(file, string.Create(CultureInfo.InvariantCulture, $"| {test} | {done} | {measured} |\n"));
            }
        }
    }

    /// <summary>The value that so many of a hundred do not exceed.</summary>
    public static double Percentile(IReadOnlyCollection<double> values, int inHundred)
    {
        var sorted = values.Order().ToArray();
        return sorted.Length == 0 ? double.NaN : sorted[Math.Min(sorted.Length - 1, (int)Math.Ceiling(sorted.Length * inHundred / 100.0) - 1)];
    }
}
