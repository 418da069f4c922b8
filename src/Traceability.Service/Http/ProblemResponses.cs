using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.OpenApi;
using Swashbuckle.AspNetCore.SwaggerGen;

namespace Traceability.Service.Http;

/// <summary>Adds the key, and the problems that any endpoint of its kind can answer with.</summary>
internal sealed class ProblemResponses : IOperationFilter
{
    /// <inheritdoc />
    public void Apply(OpenApiOperation operation, OperationFilterContext context)
    {
        var metadata = context.ApiDescription.ActionDescriptor.EndpointMetadata;
        var responses = operation.Responses ??= [];
        var isOpen = metadata.OfType<IAllowAnonymous>().Any();
        if (!isOpen)
        {
            operation.Security = [new() { [new OpenApiSecuritySchemeReference(OpenApiSetup.SecurityScheme, context.Document)] = [] }];
            Add(StatusCodes.Status401Unauthorized, "No key, or one that is not known (key-missing, key-unknown).");
            Add(StatusCodes.Status403Forbidden, "The key's role or station does not allow this.");
            Add(StatusCodes.Status503ServiceUnavailable, "The database can't be reached; Retry-After says when to send the same again.");
        }

        if (operation.RequestBody is not null || operation.Parameters is { Count: > 0 })
        {
            Add(StatusCodes.Status400BadRequest, "What was sent can't be read; each wrong place is named.");
        }

        if (operation.RequestBody is not null)
        {
            var limit = metadata.OfType<BodyLimit>().LastOrDefault() ?? BodyLimit.Default;
            Add(StatusCodes.Status413PayloadTooLarge, string.Create(CultureInfo.InvariantCulture, $"The body is larger than {limit.Bytes} bytes."));
            Add(StatusCodes.Status415UnsupportedMediaType, "The body's media type is not taken here.");
        }

        foreach (var (status, response) in responses.Where(r => IsError(r.Key)))
        {
            Fill(status, (OpenApiResponse)response);
        }

        Sort(responses, operation);

        void Add(int status, string description) =>
            responses.TryAdd(status.ToString(CultureInfo.InvariantCulture), new OpenApiResponse { Description = description });

        // A 503 of readiness has a body of its own.
        void Fill(string status, OpenApiResponse response)
        {
            if (response.Content is { Count: > 0 } content && !content.ContainsKey(Problems.MediaType))
            {
                return;
            }

            response.Content = new Dictionary<string, IOpenApiMediaType>(StringComparer.Ordinal)
            {
                [Problems.MediaType] = new OpenApiMediaType { Schema = new OpenApiSchemaReference(ProblemSchemas.Problem, context.Document) },
            };
        }
    }

    private static bool IsError(string status) => status[0] is '4' or '5';

    private static void Sort(OpenApiResponses responses, OpenApiOperation operation)
    {
        var sorted = new OpenApiResponses();
        foreach (var (status, response) in responses.OrderBy(r => r.Key, StringComparer.Ordinal))
        {
            sorted.Add(status, response);
        }

        operation.Responses = sorted;
    }
}
