namespace Traceability.Domain.Judging;

/// <summary>A stored record may leave an array out: that reads as empty.</summary>
internal static class ArrayExtensions
{
    public static ImmutableArray<T> OrEmpty<T>(this ImmutableArray<T> array) => array.IsDefault ? [] : array;
}
