namespace Traceability.Testing;

/// <summary>How long tests of faults may take: the short form runs each time, the long one when asked for.</summary>
public static class TestLength
{
    /// <summary>Gets whether the long form was asked for: the environment variable TRACEABILITY_TEST_LONG is 1.</summary>
    public static bool IsLong => Environment.GetEnvironmentVariable("TRACEABILITY_TEST_LONG") == "1";
}
